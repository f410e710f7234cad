"""A controller that somebody wrote who had nothing but a card: no source, no other page.

`data/card.txt` is that card as text, of the base craft of `configs/courier-rates.yaml`; `data/boat.h` is what they were told of
readings and commands, `data/by_the_card.c` what they wrote, and `data/between.c` joins that to the flights.
"""

from __future__ import annotations

from pathlib import Path

from sweep.campaign.craft import Craft
from sweep.campaign.text.document import read_document
from tests.model.crafts import COURIER_FILE

DATA = Path(__file__).parent / "data"


def craft_of_card() -> Craft:
    """The craft that the card is of."""
    return Craft.model_validate(read_document(COURIER_FILE.with_name("courier-cascaded.yaml")).plain())


def controller() -> str:
    """The controller as code of the builder's own, in one file."""
    boat, written, between = ((DATA / name).read_text(encoding="utf-8") for name in ("boat.h", "by_the_card.c", "between.c"))
    head = '#define OWN_MEMORY\n#include "control.h"\n'
    return "\n".join([head, boat, written.replace('#include "boat.h"\n', ""), between])
