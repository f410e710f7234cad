"""Bad code of the builder's own: told in words, each kind; nothing else that flies is touched."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

import numpy as np
import pytest

from sweep.campaign.craft import Craft
from sweep.campaign.text.problems import ChoiceError
from sweep.flying import own_flights
from sweep.model.flight import fly
from sweep.model.onboard.own import NotLoadedError
from sweep.model.quantities import CODE_CRASHED, FLEW, STATUS_NAMES
from sweep.own import permit
from sweep.own.compiling import OwnCodeError
from sweep.own.contained import ChildDiedError, let_go
from sweep.own.permit import allow, prepare
from tests.model.crafts import block_of, courier, fleet_of, jonswap
from tests.own.bad import FLOWN, LATER, REFUSED, STATUS, TRIED, law
from tests.own.laws import NAME, exported, needs_compiler, with_code

BLOCK = block_of(jonswap(math.pi, 0.01), 9.0, 2.0)


@pytest.fixture(autouse=True)
def nothing_allowed(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Each test asks for its own code."""
    monkeypatch.setattr(permit, "_ALLOWED", {})
    yield
    let_go()
    own_flights.heard()


def craft_with(text: str, kp: float = 0.5) -> Craft:
    return with_code(courier(), text, {"kp": kp})


def three(text: str) -> list[Craft]:
    """Designs of which the one in the middle meets what is wrong."""
    return [craft_with(text, kp) for kp in (0.4, 1.1, 0.6)]


@needs_compiler
@pytest.mark.parametrize("kind", REFUSED)
def test_it_is_refused_before_it_is_loaded(kind: str) -> None:
    bad = REFUSED[kind]
    allow({NAME: bad.text})
    with pytest.raises(OwnCodeError) as error:
        prepare(fleet_of(craft_with(bad.text)))
    assert bad.said in str(error.value)


@needs_compiler
@pytest.mark.parametrize("kind", TRIED)
def test_it_is_told_on_made_up_readings(kind: str) -> None:
    bad = TRIED[kind]
    allow({NAME: bad.text})
    with pytest.raises(OwnCodeError) as error:
        prepare(fleet_of(craft_with(bad.text)))
    assert bad.said in str(error.value)
    assert str(error.value).startswith(NAME)


@needs_compiler
def test_sound_code_passes_and_flies() -> None:
    text = law()
    allow({NAME: text})
    fleet = fleet_of(three(text))
    prepare(fleet)
    assert own_flights.fly(fleet, BLOCK).status.tolist() == [FLEW] * 3
    assert own_flights.heard() == []


@pytest.fixture(scope="module")
def of_sound_code() -> bytes:
    """What the designs before and behind the bad one do among sound ones."""
    allow({NAME: law()})
    return own_flights.fly(fleet_of(three(law())), BLOCK).responses[::2].tobytes()


@needs_compiler
@pytest.mark.parametrize("kind", FLOWN)
def test_one_flight_fails_and_the_others_keep_their_bits(kind: str, of_sound_code: bytes) -> None:
    bad = FLOWN[kind]
    allow({NAME: bad.text})
    fleet = fleet_of(three(bad.text))
    prepare(fleet)
    found = own_flights.fly(fleet, BLOCK)
    assert [STATUS_NAMES[status] for status in found.status] == ["flew", STATUS[kind], "flew"]
    (said,) = own_flights.heard()
    by = "by" if kind == "hidden not-a-number" else "at"
    assert said.startswith((f"{by} tick 699, 6.99 s, ", f"{by} tick 700, 7.00 s, "))  # armed in one before the flight
    assert bad.said in said
    assert np.isnan(found.responses[1]).all()
    assert found.responses[::2].tobytes() == of_sound_code


@needs_compiler
def test_what_is_not_a_number_is_told_of_every_flight_of_a_tick() -> None:
    """It comes as a signal, which is off until the first one's tick is over."""
    text = FLOWN["hidden not-a-number"].text
    allow({NAME: text})
    found = own_flights.fly(fleet_of([craft_with(text, kp) for kp in (1.1, 0.6, 1.2)]), BLOCK)
    assert [STATUS_NAMES[status] for status in found.status] == ["code-not-a-number", "flew", "code-not-a-number"]


@needs_compiler
def test_what_is_not_a_number_and_came_of_no_arithmetic_is_found_in_the_memory() -> None:
    """No operation tells of it: it is found when the memory is looked through next, and the tick is told as the latest."""
    text = law(f'{LATER}        m->climbs[1] = __builtin_nanf("");\n')
    allow({NAME: text})
    found = own_flights.fly(fleet_of(three(text)), BLOCK)
    assert [STATUS_NAMES[status] for status in found.status] == ["flew", "code-not-a-number", "flew"]
    (said,) = own_flights.heard()
    tick = re.match(r"by tick (\d+), ", said)
    assert tick, said
    assert 699 <= int(tick[1]) <= 700 + 16


def test_a_process_that_is_lost_costs_one_flight(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its piece is flown again one by one, and the flight that loses its process again has its reason."""
    fleet = fleet_of(three(law()))
    tried = []

    def died(_, function, some, block):
        tried.append(some.size)
        if any(np.array_equal(row, fleet.parameters[1], equal_nan=True) for row in some.parameters):
            raise ChildDiedError
        return fly(own_flights.as_built_in(some), block), []

    monkeypatch.setattr(own_flights, "in_child", died)
    found = own_flights.fly(fleet, BLOCK._replace(length=3.0))
    assert found.status.tolist() == [FLEW, CODE_CRASHED, FLEW]
    assert tried == [3, 1, 1, 1]
    (said,) = own_flights.heard()
    assert "took its process with it" in said


def test_nothing_runs_that_was_not_asked_for() -> None:
    fleet = fleet_of(craft_with(law()))
    with pytest.raises(ChoiceError, match="--run-code"):
        own_flights.fly(fleet, BLOCK)
    with pytest.raises(NotLoadedError):
        fly(fleet, BLOCK)


@needs_compiler
def test_other_text_under_an_allowed_name_does_not_run() -> None:
    allow({NAME: law()})
    with pytest.raises(ChoiceError, match="--run-code"):
        own_flights.fly(fleet_of(craft_with(law() + "/* changed */\n")), BLOCK)


@needs_compiler
def test_the_exported_law_flies_as_own_code() -> None:
    """As near to the built-in law as one flight shows; tests.benchmarks.own_code compares hundreds."""
    text = exported(courier())
    allow({NAME: text})
    own, built_in = fleet_of(with_code(courier(), text)), fleet_of(courier())
    prepare(own)
    one, other = own_flights.fly(own, BLOCK), fly(built_in, BLOCK)
    assert one.status.tolist() == other.status.tolist() == [FLEW]
    there = np.isfinite(other.responses)
    assert one.responses[there] == pytest.approx(other.responses[there], rel=0.05, abs=0.01)


@needs_compiler
def test_a_flight_is_the_same_in_any_company() -> None:
    text = law()
    allow({NAME: text})
    crafts = [craft_with(text, 0.3 + 0.01 * number) for number in range(40)]
    together = own_flights.fly(fleet_of(crafts), BLOCK)
    alone = own_flights.fly(fleet_of(crafts[37]), BLOCK)
    assert together.responses[37].tobytes() == alone.responses[0].tobytes()
