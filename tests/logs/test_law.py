"""What really flew: another boat's own control code, apart from the kernels, and the model's flights with other laws."""

from __future__ import annotations

from functools import cache
from math import pi
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.addresses import replace_values
from sweep.campaign.text.problems import ChoiceError
from sweep.logs.compare.simulated_log import fly_aboard
from sweep.logs.fit.craft_fit import Result
from sweep.logs.law.day import SetupLaw, laws_of
from sweep.logs.law.flew import Flew, Law, law_of
from sweep.logs.law.inputs import stretches
from sweep.logs.law.replay import declared, replay
from sweep.logs.law.settings import settings_of
from sweep.logs.read.mapping import load_mapping
from sweep.logs.report import commands
from sweep.logs.report.day import Day
from sweep.logs.report.law import law_rows, law_sentences, why_not_fit
from sweep.model.compiled import LANES
from sweep.model.pack.foils import mix_of
from sweep.model.pack.mass import mass_properties
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.waves import draw_components
from tests.logs import foreign
from tests.logs.foreign import HEAD, Logger, Sea, log_of, write_foreign
from tests.logs.foreign_law import COLUMNS, Beam, Code, commanded, tilted_by_hand, with_second_beam
from tests.logs.made import DEPTH, flown
from tests.model.crafts import WATER, block_of, courier

PLAIN = Code()
TRIPLE = 3.0 * PLAIN.height[0]
OTHERS = {
    "a gain three times, two ticks late": (
        PLAIN._replace(height=(TRIPLE, *PLAIN.height[1:]), delay=2),
        {"control.height.proportional": TRIPLE, "control.delay": 0.02},
    ),
    "a limit and a pitch gain at half": (
        PLAIN._replace(height_limit=0.01, pitch=(0.6, 0.06)),
        {"control.height.limit": 0.01, "control.pitch.proportional": 0.6},
    ),
    "another smoothing": (PLAIN._replace(smoothing=0.2), {"control.height.smoothing": 0.2}),
}
LENGTH = 18.0
"""s, of a pass."""


@cache
def mix() -> np.ndarray:
    """The mixer (M15.14), as the craft file gives it."""
    return np.array(mix_of(courier(), mass_properties(courier())))


def sent(code: Code, seed: int = 5, length: float = LENGTH, logger: Logger | None = None) -> pd.DataFrame:
    """The rows of a pass into the waves of the other boat, whose own code sends the commands."""
    return commanded(log_of(Sea(0.054, 1.1, seed), 4.0, HEAD, length, logger or Logger()), mix(), code)


def day(folder: Path, tables: list[pd.DataFrame], setups: list[str] | None = None) -> Path:
    return write_foreign(folder, tables, setups, foreign.COLUMNS + COLUMNS)


def foreign_law(folder: Path, code: Code) -> SetupLaw:
    """The law by such a pass."""
    (found,) = laws_of(load_mapping(day(folder, [sent(code)])))
    return found


def told(found: SetupLaw) -> Law:
    assert found.law is not None, found.why
    return found.law


@pytest.mark.parametrize("name", OTHERS)
def test_what_another_code_sent_is_told(name: str, tmp_path: Path) -> None:
    """The interval of what was turned holds it, and nothing else is called other than in the craft file."""
    code, turned = OTHERS[name]
    law = told(foreign_law(tmp_path, code))
    assert law.logged == "commands"
    assert law.signs == (1, 1, 1)
    assert not law.holds
    by_address = {each.setting.address: each for each in law.settings}
    for address, value in turned.items():
        assert by_address[address].low <= value <= by_address[address].high, by_address[address]
    assert {each.setting.address for each in law.differing} == set(turned)


def test_a_code_that_holds_its_height_between_readings_is_known(tmp_path: Path) -> None:
    """It is told, with its gain; a fit, whose model levels at every tick, is refused; the gain is not misjudged silently."""
    code = PLAIN._replace(holds=True, height=(2.0 * PLAIN.height[0], *PLAIN.height[1:]))
    found = foreign_law(tmp_path, code)
    law = told(found)
    assert law.holds
    assert not law.agrees
    (height,) = (each for each in law.settings if each.setting.address == "control.height.proportional")
    assert height.low <= code.height[0] <= height.high
    assert law.differing == (height,)
    assert any("holds it until the next" in sentence for sentence in law_sentences(found, list(courier().foils)))
    assert "holds its height" in why_not_fit(found, ("lift",), load_mapping(tmp_path / "day.yaml"))


TWO = """\
rangefinders:
  height: 0 cm
  each:
    bow: {x: 35 cm, rate: 20 Hz, latency: 60 ms, noise: 3 mm, resolution: 1 mm}
    middle: {x: 10 cm, rate: 40 Hz, latency: 15 ms, noise: 6 mm, resolution: 1 mm, trust: 0.5}
"""


def of_two(folder: Path, code: Code, mapped: bool = True) -> SetupLaw:
    """The law by a pass of a boat that steers by two unlike rangefinders; mapped: whether the log has both."""
    sea = Sea(0.054, 1.1, 5)
    table = with_second_beam(log_of(sea, 4.0, HEAD, LENGTH, Logger()), sea, 4.0, HEAD, Beam())
    further = "  range_middle: {column: h2, unit: cm}\n" if mapped else ""
    path = write_foreign(folder, [commanded(table, mix(), code)], None, foreign.COLUMNS + COLUMNS + further)
    lines = (folder / "craft.yaml").read_text(encoding="utf-8").splitlines()
    text = "\n".join(TWO.rstrip() if line.startswith("rangefinders:") else line for line in lines)
    (folder / "craft.yaml").write_text(text, encoding="utf-8")
    (found,) = laws_of(load_mapping(path))
    return found


def test_two_unlike_rangefinders_are_replayed(tmp_path: Path) -> None:
    """Rate, latency, noise, place and trust of their own: the code takes the mean of their heights by trust (M15.6)."""
    law = told(of_two(tmp_path, PLAIN._replace(height=(TRIPLE, *PLAIN.height[1:]), further=(0.10, 0.5))))
    assert law.signs == (1, 1, 1)
    assert law.unexplained < 0.01
    (found,) = law.differing
    assert found.setting.address == "control.height.proportional"
    assert found.low <= TRIPLE <= found.high


def test_of_two_rangefinders_the_log_has_one(tmp_path: Path) -> None:
    """It says that it does not know, and what is lacking; it takes the first's readings for no others'."""
    found = of_two(tmp_path, PLAIN._replace(further=(0.10, 0.5)), mapped=False)
    assert found.law is None
    assert found.why == "the code uses several rangefinders, and the log has no range_middle"


def test_a_foil_s_sign_is_told(tmp_path: Path) -> None:
    found = foreign_law(tmp_path, PLAIN._replace(signs=(-1, 1, 1)))
    assert told(found).signs == (-1, 1, 1)
    assert any("sign of port is turned" in sentence for sentence in law_sentences(found, list(courier().foils)))


def test_another_law_is_not_taken_for_other_settings(tmp_path: Path) -> None:
    """Angles that have nothing to do with the sensors: nothing is told."""
    table = sent(PLAIN)
    draws = np.random.default_rng(2)
    for name in ("fp", "fs", "fa"):
        table[name] = np.convolve(draws.standard_normal(len(table)), np.ones(20) / 10.0, "same")
    (found,) = laws_of(load_mapping(day(tmp_path, [table])))
    law = told(found)
    assert law.why
    assert not any(each.told or each.differs for each in law.settings)


def test_a_bench_check_before_water(tmp_path: Path) -> None:
    """The boat tilted by hand: gains, signs, and the limits that the tilt reaches, without a metre sailed."""
    code = PLAIN._replace(signs=(1, -1, 1), roll=(1.6, 0.05), pitch_limit=0.05)
    (found,) = laws_of(load_mapping(day(tmp_path, [commanded(tilted_by_hand(), mix(), code)])))
    law = told(found)
    assert found.bench
    assert law.signs == (1, -1, 1)
    by_address = {each.setting.address: each for each in law.settings}
    assert {each.setting.address for each in law.differing} == {"control.roll.proportional", "control.pitch.limit"}
    for address, value in {"control.roll.proportional": 1.6, "control.pitch.limit": 0.05}.items():
        assert by_address[address].low <= value <= by_address[address].high


def test_no_servo_changes_what_the_code_sends() -> None:
    """So only angles that servos reached need the servos' replay."""
    craft = courier()
    (inputs,) = stretches(flown(length=25.0).log, craft, 4.0)
    short = inputs._replace(time=inputs.time[:300])
    settings = np.full((LANES, 1), 2.0 * craft.control.height.proportional)
    sent = [
        replay(declared(craft, WATER, 4.0), settings, [settings_of(craft)[0].slot], short, np.zeros((5, LANES)), servos)
        for servos in (True, False)
    ]
    assert sent[0].commands.std() > 0.0
    assert np.array_equal(sent[0].commands, sent[1].commands)
    assert not sent[1].reached.size


def test_the_model_s_own_flights_tell_their_law_by_what_the_servos_reached() -> None:
    craft = courier()
    plain = law_of(craft, WATER, stretches(flown(length=25.0).log, craft, 4.0), 4.0)
    assert plain.logged == "reached"
    assert plain.agrees
    sea = draw_components(Spectrum(0.05, 1.1, 3.3), pi, DEPTH, np.random.default_rng([3, 5]))
    turned = {"control.height.proportional": 3.0 * craft.control.height.proportional, "control.delay": 0.03}
    log = fly_aboard([replace_values(craft, turned)], WATER, block_of(sea, 30.0, 5.0), 4.0)[0].log
    law = law_of(craft, WATER, stretches(log, craft, 4.0), 4.0)
    assert {each.setting.address for each in law.differing} == set(turned)
    for each in law.differing:
        assert each.low <= turned[each.setting.address] <= each.high


def test_the_replay_stands_before_a_fit(tmp_path: Path) -> None:
    """A foil whose sign is turned would be fitted as lift: the fit says so and stops."""
    table = sent(PLAIN._replace(signs=(1, 1, -1)))
    with pytest.raises(ChoiceError, match=r"law that flew is not the craft file's: the sign of aft"):
        commands.fit(day(tmp_path, [table]), None, None, lambda text: None)


def test_a_fit_takes_the_gains_that_flew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A gain three times the declared one would be fitted as lift: the fit has the gain as it flew, and says so."""
    seen: dict[str, float] = {}

    def fit_day(day: Day, names: object, progress: object, settings: dict[str, float]) -> Result:
        seen.update(settings)
        return Result((), (), 1.0, 60, day.mapping.craft)

    monkeypatch.setattr(commands, "fit_day", fit_day)
    code = PLAIN._replace(height=(TRIPLE, *PLAIN.height[1:]))
    table = sent(code)
    said = commands.fit(day(tmp_path, [table]), None, None, lambda text: None)
    assert seen == {"control.height.proportional": pytest.approx(code.height[0], rel=0.05)}
    assert any("Fitted with the settings that flew" in line and "height, proportional 1.2" in line for line in said)


def test_a_gain_that_is_hardly_told_stops_a_fit() -> None:
    known = Flew(settings_of(courier())[0], 0.7, 2.1, 1.95, 2.25, True)
    law = Law((known,), (1, 1, 1), "commands", 0.01, 40.0)
    mapping = SimpleNamespace(craft=courier())
    assert why_not_fit(SetupLaw("a", False, law, ""), ("lift",), mapping) == ""  # type: ignore[arg-type]
    vague = SetupLaw("a", False, law._replace(settings=(known._replace(low=1.5, high=2.7),)), "")
    assert "height, proportional" in why_not_fit(vague, ("lift",), mapping)  # type: ignore[arg-type]


def test_words_of_a_day(tmp_path: Path) -> None:
    """Set-up by set-up, in the units of a craft file; a setting that no command reached is 'not reached'."""
    firm = PLAIN._replace(height=(TRIPLE, *PLAIN.height[1:]))
    tables = [sent(code, 5 + i) for i, code in enumerate((PLAIN, firm))]
    said = "\n".join(commands.law(day(tmp_path, tables, ["plain", "firm"]), lambda text: None))
    assert "“plain”" in said
    assert "Nothing that the log tells differs" in said
    assert "Not as in the craft file: control.height.proportional." in said
    assert "not reached" in said


def test_without_foils_it_says_that_it_does_not_know(tmp_path: Path) -> None:
    table = log_of(Sea(0.054, 1.1, 5), 4.0, HEAD, LENGTH, Logger())
    (found,) = laws_of(load_mapping(write_foreign(tmp_path, [table])))
    assert found.law is None
    assert "not told" in law_sentences(found, list(courier().foils))[0]


def test_a_log_with_holes_still_tells(tmp_path: Path) -> None:
    table = sent(PLAIN._replace(pitch=(0.6, 0.06)), length=25.0)
    time = table["t"].to_numpy()
    holed = table[(np.mod(time, 11.0) > 0.3)]
    (found,) = laws_of(load_mapping(day(tmp_path, [holed])))
    law = told(found)
    assert {each.setting.address for each in law.differing} == {"control.pitch.proportional"}
    assert len(law_rows(law)) == len(law.settings)
