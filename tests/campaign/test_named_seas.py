"""Every kind of sea answers for itself: nobody asks what kind it is, and one that nobody knew goes everywhere."""

from __future__ import annotations

import ast
import json
from collections.abc import Iterator
from dataclasses import replace
from hashlib import blake2b
from math import nan, pi, tau
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pandas as pd
import pytest

import sweep
from sweep.campaign import named_seas, seas
from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.conditions import Condition, condition_table, list_conditions
from sweep.campaign.designs import lay_out
from sweep.campaign.draws import draw_block, drawn_by, water_of
from sweep.campaign.faults import NamedFault
from sweep.campaign.named_seas import (
    BretschneiderSea,
    FlatSea,
    JonswapSea,
    NamedSea,
    PacketSea,
    RegularSea,
    SumOfSeas,
)
from sweep.campaign.plausible import unfelt_wind
from sweep.campaign.ride_map import shaping_sea
from sweep.campaign.seas import steep_seas
from sweep.campaign.text.resources import shipped
from sweep.flying.recording import record_flights
from sweep.flying.work import Work
from sweep.insight.validity import leaves
from sweep.linear.prediction import predict_rides
from sweep.linear.reach import expected_encounters
from sweep.model.onboard.noise import generator
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.waves import Sea, Track, draw_components, elevation, flat_sea, join, regular_sea
from sweep.preflight.first_runs import mildest
from sweep.results.fingerprint import conditions_digest, flight_keys, flown_content
from tests.campaign.files import load

SWEEP = Path(sweep.__file__).parent
TRACK = Track(4.0, 0.0, 12.0)
CHOP = JonswapSea(height=0.05, period=1.1, spreading=10.0, turned=0.3)
SWELL = RegularSea(height=0.05, period=1.1, turned=0.3)
OLD = BretschneiderSea(height=0.05, period=1.1)
WAKE = PacketSea(height=0.05, period=1.1, waves=6.0, arrives=8.0)
CROSS = SumOfSeas(height=0.05, period=1.1, parts=(CHOP, WAKE))
EVERY = (FlatSea(), SWELL, CHOP, OLD, WAKE, CROSS)


def components(sea: NamedSea, heading: float = 1.0, depth: float = 2.0, seed: int = 1) -> Sea:
    return sea.components(heading, depth, np.random.default_rng(seed), TRACK)


def same(a: Sea, b: Sea) -> bool:
    return all(np.array_equal(getattr(a, name), getattr(b, name)) for name in Sea._fields)


# What each answers


def test_a_sea_has_the_waves_of_its_kind() -> None:
    assert same(components(FlatSea()), flat_sea(2.0))
    phase = np.random.default_rng(1).uniform(0, tau)
    assert same(components(SWELL), regular_sea(0.05, 1.1, 1.3, 2.0, phase))
    for sea, gamma in ((JonswapSea(height=0.05, period=1.0), 3.3), (BretschneiderSea(height=0.05, period=1.0), 1.0)):
        drawn = draw_components(Spectrum(0.05, 1.0, gamma), 1.0, 2.0, np.random.default_rng(1))
        assert same(components(sea), drawn)
        assert not same(components(sea, seed=2), drawn)
        spread = draw_components(Spectrum(0.05, 1.0, gamma), 1.5, 2.0, np.random.default_rng(1), spread=10.0)
        assert same(components(sea.model_copy(update={"spreading": 10.0, "turned": 0.5})), spread)


def test_a_sum_is_all_its_seas_at_once() -> None:
    draws = np.random.default_rng(1)
    alone = [part.components(2.0, 3.0, draws, TRACK) for part in (CHOP, SWELL, WAKE)]
    whole = components(SumOfSeas(parts=(CHOP, SWELL, WAKE)), 2.0, 3.0)
    assert elevation(whole, 0.3, 0.4, 5.0) == pytest.approx(sum(elevation(sea, 0.3, 0.4, 5.0) for sea in alone), abs=1e-15)
    assert alone[1].kx[0] / alone[1].wave_number[0] == pytest.approx(np.cos(2.3))


SEA_BREAKS = "a sea of 0.12 m and 1 s breaks: height over length is 0.077; wanted at most 0.070"
WAVE_BREAKS = "a {} of 0.23 m and 1 s breaks: height over length is 0.147; wanted at most 0.142"


@pytest.mark.parametrize(
    ("sea", "message"),
    [
        (
            JonswapSea(height=0.12, period=1.0),
            SEA_BREAKS,
        ),
        (
            RegularSea(height=0.23, period=1.0),
            "a wave of 0.23 m and 1 s breaks: height over length is 0.147; wanted at most 0.142",
        ),
        (
            PacketSea(height=0.23, period=1.0, waves=6.0, arrives=8.0),
            "a packet of 0.23 m and 1 s breaks: height over length is 0.147; wanted at most 0.142",
        ),
    ],
    ids=["sea", "wave", "packet"],
)
def test_a_sea_that_cannot_be_is_refused(sea: NamedSea, message: str) -> None:
    with pytest.raises(ValueError, match=f"^{message}$"):
        components(sea, 0.0)


def test_a_sea_in_words() -> None:
    assert [sea.text for sea in EVERY] == [
        "calm",
        "regular waves of 5 cm and 1.1 s",
        "JONSWAP sea of 5 cm and 1.1 s",
        "two-parameter sea of 5 cm and 1.1 s",
        "packet waves of 5 cm and 1.1 s",
        "JONSWAP sea of 5 cm and 1.1 s with packet waves of 5 cm and 1.1 s",
    ]
    assert FlatSea(wind=4.0).text == "calm, with a wind of 4 m/s"


def test_a_sea_is_of_no_kind_at_all_only_by_mistake() -> None:
    with pytest.raises(TypeError, match="abstract"):
        NamedSea(kind="tidal")  # type: ignore[abstract]


# Nobody asks


def classes() -> set[type]:
    """All kinds of seas, as flights meet them and as files have them."""
    found: set[type] = {NamedSea, seas._Entry}
    while more := {each for kind in found for each in kind.__subclasses__() if each.__module__.startswith("sweep.")} - found:
        found |= more
    return found


NAMES = {each.__name__ for each in classes()}
KINDS = {"flat", "regular", "jonswap", "bretschneider", "code", "wind", "packet", "sum"}
OWN = {"parts", "gamma", "spreading", "waves", "arrives"}
HOMES = {"campaign/seas.py", "campaign/named_seas.py"}


def asked(source: str) -> Iterator[str]:
    """Each place that asks a sea for its kind."""
    tree = ast.parse(source)
    modules = ("sweep.campaign.seas", "sweep.campaign.named_seas")
    imports = [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and node.module in modules]
    known = {name.asname or name.name for node in imports for name in node.names if name.name in NAMES}
    for node in ast.walk(tree):
        if not isinstance(node, ast.Compare | ast.Match | ast.Attribute | ast.Call):
            continue
        words = {each.value for each in ast.walk(node) if isinstance(each, ast.Constant) and isinstance(each.value, str)}
        attributes = {each.attr for each in ast.walk(node) if isinstance(each, ast.Attribute)}
        names = {each.id for each in ast.walk(node) if isinstance(each, ast.Name)} | attributes
        if isinstance(node, ast.Compare | ast.Match) and "kind" in attributes and words & KINDS:
            yield ast.unparse(node)
        if isinstance(node, ast.Attribute) and node.attr == "kind" and ast.unparse(node.value).split(".")[-1].endswith("sea"):
            yield ast.unparse(node)
        called = node.func.id if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) else ""
        if called in ("isinstance", "issubclass", "type") and names & known:
            yield ast.unparse(node)
        if called in ("hasattr", "getattr") and words & OWN:
            yield ast.unparse(node)


def test_nobody_asks_what_kind_a_sea_is() -> None:
    found = {
        path.relative_to(SWEEP).as_posix(): places
        for path in sorted(SWEEP.rglob("*.py"))
        if (places := list(asked(path.read_text(encoding="utf-8"))))
    }
    assert {home: found.pop(home, None) and "asks" for home in HOMES} == dict.fromkeys(HOMES)  # they need not either
    assert found == {}


@pytest.mark.parametrize(
    "source",
    [
        "x = sea.kind == 'flat'",
        "x = condition.sea.kind in ('jonswap', 'sum')",
        "x = part.kind != 'flat'",
        "x = TABLE[condition.sea.kind]",
        "x = TABLE.get(sea.kind)",
        "from sweep.campaign.named_seas import FlatSea as Calm\nx = isinstance(sea, (Calm, int))",
        "from sweep.campaign.seas import Packet\nx = type(entry) is Packet or isinstance(entry, Packet)",
        "x = hasattr(sea, 'parts')",
        "match each.kind:\n    case 'regular': pass",
    ],
)
def test_who_asks_is_found(source: str) -> None:
    assert list(asked(source))


def test_all_kinds_are_looked_for() -> None:
    said = {each.model_fields["kind"].annotation for each in classes() if "kind" in each.model_fields}  # type: ignore[attr-defined]
    assert {word for kind in said - {str} for word in kind.__args__} == KINDS  # type: ignore[union-attr]


# A kind that nobody knew


class Twins(NamedSea):
    """Two wave trains of one period that cross."""

    kind: Literal["twins"] = "twins"
    apart: float = 0.5
    called = "twin swells"

    def components(self, heading: float, depth: float, generator: np.random.Generator, track: Track) -> Sea:
        """One from either side."""
        sides = [heading + self.turned + side * self.apart / 2 for side in (-1, 1)]
        return join([regular_sea(self.height / 2, self.period, side, depth, generator.uniform(0, tau)) for side in sides])


TWINS = Twins(name="twins", height=0.04, period=1.2)


@pytest.fixture
def crossed(tmp_path: Path) -> Campaign:
    """A campaign in that sea, alone, beside calm water and in a sum."""
    both = SumOfSeas(name="both", height=0.05, period=1.1, parts=(CHOP, TWINS.model_copy(update={"name": ""})))
    return load(tmp_path, ("length: 40 s", "length: 8 s")).model_copy(update={"seas": (TWINS, FlatSea(name="calm"), both)})


def test_an_unknown_kind_goes_everywhere(crossed: Campaign) -> None:
    conditions, designs = list_conditions(crossed), lay_out(crossed).head(1)
    assert condition_table(conditions)["sea_period"].dropna().unique().tolist() == [1.2, 1.1]
    first = conditions[0]
    assert (len(draw_block(crossed, first, 0).omegas), first.sea) == (2, TWINS)
    assert expected_encounters(crossed, first) > 0.0
    assert (shaping_sea((TWINS,)), mildest(crossed)) == (TWINS, TWINS)
    assert steep_seas((TWINS.model_copy(update={"height": 0.15}),), 4.0)[0].startswith("twins: height over wavelength is 0.06")
    assert unfelt_wind(crossed.craft, {}, (TWINS.model_copy(update={"wind": 3.0}),)) == ()
    assert np.isfinite(predict_rides(crossed, crossed.craft, [first]).to_numpy()).all()
    steep = replace(first, sea=TWINS.model_copy(update={"height": 0.15}))
    row = pd.DataFrame({"condition": [first.index], "submergence_p01": [nan]})
    assert "steepness" in {each.key for each in leaves(crossed.craft, water_of(crossed), [steep], row)}
    assert TWINS.text == "twin swells of 4 cm and 1.2 s"
    history = record_flights(Work(crossed, designs, conditions[:1]), [0])[0]
    assert history["surface"].abs().max() > 0.01


def test_an_unknown_kind_is_flown_and_kept_apart_by_all_that_it_has(crossed: Campaign) -> None:
    other = crossed.model_copy(update={"seas": (TWINS.model_copy(update={"apart": 0.6}), *crossed.seas[1:])})
    designs = lay_out(crossed).head(1)
    keys = [flight_keys(each, designs, list_conditions(each)[:1]) for each in (crossed, other)]
    assert keys[0].conditions != keys[1].conditions
    assert conditions_digest(crossed) != conditions_digest(other)
    assert [each["seas"][0].get("apart") for each in (flown_content(crossed, designs), flown_content(other, designs))] == [
        None,
        0.6,
    ]
    assert crossed.model_dump()["seas"][0]["apart"] == 0.5
    assert crossed.model_dump()["seas"][2]["parts"][1]["apart"] == 0.5


# The waves of before


DRAWN = {
    "classroom-pond": (7, "d0f3699f88bdbe99e0659434fa0efc4f"),
    "courier-chop": (8, "9b90d98eacb67ed1a62fba6044a70055"),
    "courier-overnight": (36, "892379a20f7d4785185afaa1b57c2a30"),
    "courier-race": (12, "cc213bc55632dc65e425be090c001bde"),
    "courier-take-off": (6, "161d727624ed8440ce23d69c89630bb3"),
    "lookout-lake": (24, "e0b7a003a9c3711bb74b8426f7c4cd8b"),
    "quick": (2, "79598392241e036da35ba97a7837e45a"),
    "surveyor-harbour": (18, "11da5ea055e5a040fa9bde5853451841"),
    "lessons/h-weed": (6, "7eb2f14c582bcb86fffa627ae4633d9f"),
    "lessons/i-spikes": (4, "33d3c43c9f391a6f4d070973008f1239"),
}
"""Conditions of shipped campaigns, and the digest of what draws their waves and noise. If one of these campaigns is edited its
entry is made anew; otherwise they stay: with another one a campaign that is flown again meets other waves."""

SUMS = {
    "flat": (0, 0.0, 0.0, 0.0, 0.0),
    "regular": (1, 5.711986642890532, 4.548699964796156, -2.2159478960793306, 0.025),
    "jonswap": (32, 215.6369450518413, 97.52061869963313, -112.22277923753812, 0.1),
    "bretschneider": (32, 232.7711512784848, 97.52061869963313, -80.01382333926415, 0.1),
    "packet": (11, 63.19070484014124, 1053.9671813953225, -15.57518259566984, 0.025),
    "sum": (43, 278.82764989198256, 1134.613170796856, -127.79796183320795, 0.125),
}
"""Components of a sea of each kind, and the sums of their frequency, phase, wave number along X and amplitude."""


@pytest.mark.parametrize("name", DRAWN)
def test_shipped_campaigns_draw_the_waves_of_before(name: str) -> None:
    conditions = list_conditions(load_campaign(shipped("configs") / f"{name}.yaml"))
    digest = blake2b(b"".join(drawn_by(condition).encode() + b"\n" for condition in conditions), digest_size=16)
    assert (len(conditions), digest.hexdigest()) == DRAWN[name]


@pytest.mark.parametrize("sea", EVERY, ids=lambda sea: sea.kind)
def test_every_kind_has_the_waves_of_before(sea: NamedSea) -> None:
    drawn = sea.components(2.0, 3.0, generator(1, "pinned", 0, "sea"), TRACK)
    sums = (drawn.omega.sum(), drawn.phase.sum(), drawn.kx.sum(), drawn.amplitude.sum())
    assert (len(drawn.omega), *sums) == pytest.approx(SUMS[sea.kind], rel=1e-9)


def condition(sea: NamedSea, fault: NamedFault | None = None) -> Condition:
    campaign = load_campaign(shipped("configs") / "quick.yaml")
    return replace(list_conditions(campaign)[0], sea=sea, fault=fault or NamedFault())


def test_what_draws_a_sea_is_written_as_ever() -> None:
    """Byte by byte: key for key, in this order, with the values of what a kind does not have."""
    chop = (
        '{"kind": "jonswap", "height": 0.05, "period": 1.1, "gamma": 3.3, "spreading": 10.0, '
        '"waves": 0.0, "arrives": 0.0, "turned": 0.3, "parts": []}'
    )
    wake = (
        '{"kind": "packet", "height": 0.05, "period": 1.1, "gamma": 0.0, "spreading": null, '
        '"waves": 6.0, "arrives": 8.0, "turned": 0.0, "parts": []}'
    )
    cross = (
        '{"kind": "sum", "height": 0.05, "period": 1.1, "gamma": 0.0, "spreading": null, "waves": 0.0, "arrives": 0.0, '
        f'"turned": 0.0, "parts": [{{"name": "", {chop[1:]}, {{"name": "", {wake[1:]}]}}'
    )
    fault = NamedFault(name="spikes", rows=((3.0, -1.0, 2.0, 1e9, 0.1, 0.2, 0.0),), times=(("body.mass", 1.1),))
    off = '{"rows": [[3.0, -1.0, 2.0, 1000000000.0, 0.1, 0.2, 0.0]], "times": [["body.mass", 1.1]]}'
    for sea, text in ((CHOP, chop), (WAKE, wake), (CROSS, cross)):
        assert drawn_by(condition(sea)) == f'[{text}, {pi}, 4.0, "none"]'
        assert drawn_by(condition(sea, fault)) == f"[{text}, {pi}, 4.0, {off}]"


class LaterChop(JonswapSea):
    """The kind of a later version, with a field more."""

    current: float = 0.0


class LaterFault(NamedFault):
    """A fault of a later version."""

    warned: bool = False


def later(part: NamedSea, **values: Any) -> NamedSea:
    return LaterChop(**part.model_dump() | values)


def phases(sea: NamedSea, fault: NamedFault | None = None) -> bytes:
    campaign = load_campaign(shipped("configs") / "quick.yaml")
    block = draw_block(campaign, condition(sea, fault), 0)
    return block.phases.tobytes() + block.components.tobytes() + block.noise.gyro.tobytes()


def test_a_new_field_at_its_default_leaves_the_draws_alone() -> None:
    assert phases(later(CHOP)) == phases(CHOP)
    assert phases(SumOfSeas(parts=(later(CHOP), WAKE))) == phases(SumOfSeas(parts=(CHOP, WAKE)))
    rows = ((3.0, -1.0, 2.0, 1e9, 0.1, 0.2, 0.0),)
    assert phases(CHOP, LaterFault(rows=rows)) == phases(CHOP, NamedFault(rows=rows))
    assert json.dumps(later(CHOP).content()) == json.dumps(CHOP.content())
    assert phases(later(CHOP, current=0.1)) != phases(CHOP)
    assert phases(SumOfSeas(parts=(later(CHOP, current=0.1), WAKE))) != phases(SumOfSeas(parts=(CHOP, WAKE)))
    assert phases(CHOP, LaterFault(rows=rows, warned=True)) != phases(CHOP, NamedFault(rows=rows))


def test_wind_and_names_draw_nothing() -> None:
    assert phases(CHOP.model_copy(update={"wind": 5.0, "wind_turned": 1.0, "name": "x"})) == phases(CHOP)
    assert CHOP.model_copy(update={"wind": 5.0}).content() != CHOP.content()
    assert phases(CHOP.model_copy(update={"height": 0.051})) != phases(CHOP)


def test_all_fields_of_all_kinds_are_frozen_or_known() -> None:
    """What a kind has today is in the frozen list, or the waves of today would change with its default."""
    fields = {name for each in classes() if issubclass(each, NamedSea) for name in each.model_fields}
    assert fields == {"name", "parts", *named_seas.WAVES, *named_seas.WIND}
