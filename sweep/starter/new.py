"""`foilsweep new`: a craft file and a campaign from measurements, or the demos written out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from sweep.campaign.craft import Craft
from sweep.campaign.problems import CampaignError
from sweep.campaign.reading import Document, read_document
from sweep.shipped import shipped
from sweep.starter.asking import Ask, ask_all, problem_of, read_answers
from sweep.starter.first_craft import MeasurementError, cautions, first_craft
from sweep.starter.measurements import Measurements
from sweep.starter.writing import campaign_text, craft_text, demo_texts, write_new

MODEL, MODEL_SPEED = "courier", 4.0  # the demo whose gains are scaled, and the speed at which they are good


def new(folder: Path, answers: Path | None, ask: Ask, say: Callable[[str], None]) -> None:
    """Write a craft and a campaign into a folder, from a file of answers or from what `ask` gives.

    Raises CampaignError for measurements that are wrong or do not go together, and for files that are there already.
    """
    document: Document | None = None
    if answers is not None:
        measured, document = read_answers(answers)
    else:
        measured = ask_all(ask, say)
    try:
        craft = first_craft(measured, _model(), MODEL_SPEED)
    except MeasurementError as error:
        raise CampaignError([problem_of(error, document)]) from None
    campaign, _ = paths = write_new(folder, first_texts(measured, craft))
    say("\nWritten: " + ", ".join(map(str, paths)))
    for caution in cautions(measured, craft):
        say(f"Caution: {caution}.")
    say(f"Next: foilsweep check {campaign}")


def first_texts(measured: Measurements, craft: Craft) -> dict[str, str]:
    """The campaign and the craft file by their paths."""
    name = "-".join(measured.name.lower().split())
    return {f"{name}.yaml": campaign_text(craft, measured, f"craft/{name}.yaml"), f"craft/{name}.yaml": craft_text(craft)}


def copy_demo(folder: Path, name: str, say: Callable[[str], None]) -> None:
    """Write a demo's campaign and craft into a folder; raises CampaignError for no such demo or files that are there."""
    paths = write_new(folder, demo_texts(name))
    say("Written: " + ", ".join(map(str, paths)))
    say(f"Next: foilsweep run {paths[0]}")


def _model() -> Craft:
    return Craft.model_validate(read_document(shipped("configs") / "craft" / f"{MODEL}.yaml").plain())
