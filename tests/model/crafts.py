"""What the tests of the model share: the shipped courier and variations of it, seas, blocks, and a workspace to poke in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from math import pi
from pathlib import Path
from typing import Any

import numpy as np

from sweep.campaign.addresses import replace_values
from sweep.campaign.craft import Cascade, Craft
from sweep.campaign.text.document import read_document
from sweep.model import layout as at
from sweep.model.block import Block, make_block
from sweep.model.compiled import LANES
from sweep.model.flight import Flown, Lanes, fly, fly_record, start_lanes
from sweep.model.history import RECORDED
from sweep.model.onboard.noise import LaneNoise, NoiseTables, side_by_side
from sweep.model.pack.fleet import Fleet, build_fleets
from sweep.model.physics import waves
from sweep.model.physics.spectra import Spectrum
from sweep.model.physics.water import fresh_water
from sweep.model.quantities import RESPONSE_NAMES, STATUS_NAMES
from sweep.model.slots import Record

COURIER_FILE = Path(__file__).resolve().parents[2] / "configs" / "craft" / "courier.yaml"
WATER = fresh_water(288.15, 5.0)
HEADINGS = {"head": pi, "beam": pi / 2, "quartering": pi / 4, "following": 0.0}
GRAVITY = 9.81

Floats = np.ndarray


@cache
def courier() -> Craft:
    """The courier of configs/craft, as a campaign reads it."""
    return Craft.model_validate(read_document(COURIER_FILE).plain())


RIDE = courier().control.ride_height  # m, the keel's wanted height


def changed(craft: Craft, values: Mapping[str, Any]) -> Craft:
    """A craft with other values (SI) at some addresses."""
    return replace_values(craft, values)


def quiet(craft: Craft) -> Craft:
    """The same craft with sensors and servos that tell and do exactly what is: no noise, bias, or smallest step."""
    exact = [*craft.rangefinders.addresses("noise"), *craft.rangefinders.addresses("resolution")]
    exact += ["navigation.speed_noise", "navigation.heading_noise"]
    exact += [f"inertial.{sensor}_{error}" for sensor in ("gyro", "accelerometer") for error in ("noise", "bias")]
    return changed(craft, dict.fromkeys([*exact, "servos.quantum", "steering.servo.quantum"], 0.0))


def with_foils(craft: Craft, foils: Mapping[str, Mapping[str, Any]]) -> Craft:
    """A craft on other foils, SI; what they leave out is as on the courier."""
    usual = {"area": 50e-4, "aspect_ratio": 6.0, "zero_lift_angle": -0.035}
    description = craft.model_dump() | {"foils": {name: usual | dict(foil) for name, foil in foils.items()}}
    description["steering"] = craft.steering.model_dump() | {"rudder": None}
    return Craft.model_validate(description, context={"si": True})


def with_each(each: Mapping[str, Mapping[str, Any]], craft: Craft | None = None, **usual: Any) -> Craft:
    """A craft, or else the courier, with rangefinders by name, SI, and what is usual of them."""
    description = (craft or courier()).model_dump()
    kept = {name: description["rangefinders"][name] for name in ("x", "height")}
    description["rangefinders"] = kept | usual | {"each": {name: dict(one) for name, one in each.items()}}
    return Craft.model_validate(description, context={"si": True})


def with_wand(craft: Craft | None = None, sensor: Mapping[str, Any] | None = None, **own: Any) -> Craft:
    """A craft, or else the courier, with a wand at its bow, SI, whose sensor it steers by."""
    read = {"kind": "wand", "wand": "bow", "rate": 100.0, "latency": 0.0, "noise": 0.0} | dict(sensor or {})
    description = (craft or courier()).model_dump()
    description["wands"] = {"bow": {"x": 0.45, "arm": 0.3} | own}
    description["rangefinders"] = {"x": 0.35, "each": {"feeler": read}}
    return Craft.model_validate(description, context={"si": True})


def with_lead(linkage: Mapping[str, Any] | None = None, flap: float | None = None, **own: Any) -> Craft:
    """The courier with a wand at its bow that moves a fourth foil there, or its flap, SI."""
    craft = with_wand(courier(), {"trust": 1.0}, **own)
    description = craft.model_dump()
    description["rangefinders"] = courier().rangefinders.model_dump()
    description["foils"] = {
        **description["foils"],
        "bow": {"x": 0.42, "area": 25e-4, "aspect_ratio": 6.0, "flap": flap, "zero_lift_angle": -0.035}
        | {"linkage": {"wand": "bow"} | dict(linkage or {})},
    }
    return Craft.model_validate(description, context={"si": True})


def drawn_wand(seed: int) -> Craft:
    """The courier with a wand of any kind, heavy or light, stiff or limp, at its bow or aside; by a seed."""
    draw = np.random.default_rng([seed, 31])
    own = {
        "x": draw.uniform(0.1, 0.5), "y": draw.uniform(-0.2, 0.2), "height": draw.uniform(0.0, 0.08),
        "arm": draw.uniform(0.25, 0.5), "mass": draw.uniform(0.001, 0.02), "press": draw.uniform(0.02, 0.4),
        "width": draw.uniform(0.002, 0.02), "drag": draw.choice([0.5, 0.9]),
    }  # fmt: skip
    sensor = {"angle_step": draw.choice([0.0, 0.005]), "noise": draw.uniform(0.0, 0.003), "latency": draw.uniform(0.0, 0.02)}
    return with_wand(None, sensor, **own)


def tap(**own: Any) -> dict[str, Any]:
    """A pressure tap under the courier, SI, to stand by name under its rangefinders."""
    return {"kind": "pressure", "x": 0.22, "height": -0.17, "rate": 50.0, "latency": 0.0, "resolution": 0.0, "noise": 0.0} | own


def drawn_tap(seed: int) -> Craft:
    """The courier with a tap anywhere under water; by a seed."""
    draw = np.random.default_rng([seed, 41])
    own = {
        "x": draw.uniform(-0.4, 0.4), "y": draw.uniform(-0.2, 0.2), "height": draw.uniform(-0.2, -0.13),
        "pressure_coefficient": draw.uniform(-0.1, 0.1), "tube_lag": draw.choice([0.0, 0.01, 0.05]),
        "noise": draw.uniform(0.0, 0.003), "rate": draw.uniform(20.0, 100.0), "latency": draw.uniform(0.0, 0.02),
    }  # fmt: skip
    return with_each({"tap": tap(**own)})


def drawn_lead(seed: int) -> Craft:
    """The courier with a wand and a linkage of any kind; by a seed."""
    draw = np.random.default_rng([seed, 51])
    linkage = {"gearing": draw.uniform(0.1, 0.5), "travel": draw.uniform(0.15, 0.4), "play": draw.choice([0.0, 0.01])}
    own = {"press": draw.uniform(0.3, 0.6), "mass": draw.uniform(0.002, 0.008), "width": draw.uniform(0.004, 0.012)}
    return with_lead(linkage, draw.choice([None, 0.3]), arm=draw.uniform(0.25, 0.4), **own)


def mirrored(craft: Craft) -> Craft:
    """What was to port is to starboard, in the same order in the file."""
    description = craft.model_dump()
    beside = (*description["ballast"].values(), *description["steering"]["rudders"].values(), *description["wands"].values())
    for part in (*description["foils"].values(), *description["hulls"].values(), description["inertial"], *beside):
        part["y"] = -part["y"]
    for foil in description["foils"].values():
        foil["strut_offsets"] = [-offset for offset in foil["strut_offsets"]]
    for one in (description["rangefinders"]["each"] or {}).values():
        one["y"] = -one["y"]
        one["aside"] = None if one["aside"] is None else -one["aside"]
    return Craft.model_validate(description, context={"si": True})


def fleet_of(crafts: Craft | Sequence[Craft], speed: float = 4.0, **options: Any) -> Fleet:
    """The fleet of crafts that share one structure."""
    ((_, fleet),) = build_fleets([crafts] if isinstance(crafts, Craft) else crafts, WATER, speed, **options)
    return fleet


def jonswap(heading: float, height: float = 0.04, period: float = 1.0, seed: int = 0, depth: float = 5.0) -> waves.Sea:
    """A sea drawn from a JONSWAP spectrum; m, s, rad."""
    draws = np.random.default_rng([seed, 7])
    return waves.draw_components(Spectrum(height, period, 3.3), heading, depth, draws)


def block_of(sea: waves.Sea, length: float, settle: float = 3.0, replicate: int = 0) -> Block:
    """A block with that sea and noise of its own."""
    return make_block(sea, 0, "tests", replicate, length, settle)


def calm(length: float, settle: float = 1.0) -> Block:
    """Calm water."""
    return block_of(waves.flat_sea(5.0), length, settle)


def silent(block: Block) -> Block:
    """The same block with every draw of noise at nothing, and no reading lost or wrong."""
    nothing = NoiseTables(*(np.zeros_like(table) for table in block.noise))
    return block._replace(noise=nothing._replace(range_uniform=np.ones_like(block.noise.range_uniform)))


def in_all_lanes(noise: NoiseTables) -> LaneNoise:
    """The same noise for every lane."""
    return side_by_side([noise], np.zeros(LANES, dtype=np.int64))


def response(flown: Flown, name: str) -> Floats:
    """One response of every flight, SI."""
    return flown.responses[:, RESPONSE_NAMES.index(name)]


def statuses(flown: Flown) -> list[str]:
    """How every flight ended."""
    return [STATUS_NAMES[status] for status in flown.status]


def replicates(fleet: Fleet, blocks: Iterable[Block]) -> dict[str, Floats]:
    """Every response of a fleet over several blocks, (blocks, designs), and its status."""
    flights = [fly(fleet, block) for block in blocks]
    table = {name: np.array([response(flown, name) for flown in flights]) for name in RESPONSE_NAMES}
    return table | {"status": np.array([flown.status for flown in flights])}


def history(fleet: Fleet, block: Block, rate: float = 100.0, precise: bool = False) -> dict[str, Floats]:
    """Time history of every design, columns by name, (designs, rows); "foils" is (designs, rows, foils)."""
    record = fly_record(fleet, block, rate, precise)
    columns = {name: record[:, :, i] for i, name in enumerate(RECORDED)}
    return columns | {"foils": record[:, :, len(RECORDED) :]}


CASCADED: dict[str, Any] = {
    "control.law": "cascaded",
    "control.cascade": Cascade.model_validate(
        {
            "pitch": {"angle": {"proportional": 8.0}, "rate": {"proportional": 0.07, "integral": 0.2, "derivative": 4e-4}},
            "roll": {"angle": {"proportional": 8.0}, "rate": {"proportional": 0.06, "integral": 0.2}},
        },
        context={"si": True},
    ),
}
"""Values of a craft under cascaded loops whose gains suit the courier, SI (judgement)."""


class Bench:
    """A workspace with designs in its lanes, in trim at the start of a flight, to set and read slot by slot."""

    def __init__(self, crafts: Craft | Sequence[Craft], speed: float = 4.0, **options: Any) -> None:
        self.fleet = fleet_of(crafts, speed, **options)
        self.lanes: Lanes = start_lanes(self.fleet)
        self.flat = self.lanes.workspace
        self.slots = self.flat.reshape(-1, LANES)
        self.counts = self.fleet.structure.counts

    def put(self, slot: int | Record, value: float | Sequence[float] | Floats) -> None:
        """Set one slot, or neighbouring ones, the same in every lane; an array (slots, lanes) sets lane by lane."""
        first = slot.first if isinstance(slot, Record) else slot
        values = np.atleast_1d(np.asarray(value, dtype=float))
        self.slots[first : first + len(values)] = values if values.ndim == 2 else values[:, None]

    def get(self, slot: int | Record, count: int | None = None, further: int = 0) -> Any:
        """One slot, some neighbouring ones or a record's, `further` on, in lane 0."""
        if isinstance(slot, Record):
            return self.slots[slot.slots(further), 0].copy()
        return self.slots[slot, 0] if count is None else self.slots[slot : slot + count, 0].copy()

    def station(self, number: int) -> int:
        """What a slot of the first hull station is away from the same of another."""
        return number * at.STATION.width

    def foil(self, number: int) -> int:
        """The same of a foil."""
        return number * at.FOIL.width


def rotation(roll: float, pitch: float, yaw: float) -> Floats:
    """Body to earth, by the textbook: yaw, then pitch, then roll."""
    (sr, cr), (sp, cp), (sy, cy) = ((np.sin(angle), np.cos(angle)) for angle in (roll, pitch, yaw))
    about_z = np.array([[cy, -sy, 0.0], [sy, cy, 0.0], [0.0, 0.0, 1.0]])
    about_y = np.array([[cp, 0.0, sp], [0.0, 1.0, 0.0], [-sp, 0.0, cp]])
    about_x = np.array([[1.0, 0.0, 0.0], [0.0, cr, -sr], [0.0, sr, cr]])
    return about_z @ about_y @ about_x


def state_of(
    craft: Craft,
    position: Sequence[float],
    angles: Sequence[float] = (0.0, 0.0, 0.0),
    velocity: Sequence[float] = (0.0, 0.0, 0.0),
    rates: Sequence[float] = (0.0, 0.0, 0.0),
    thrust: float = 0.0,
    strips: int = 2,
) -> dict[str, Any]:
    """A state for the probe, lags at nothing."""
    foils = len(craft.foils)
    motion = {"position": position, "angles": angles, "velocity": velocity, "rates": rates}
    state: dict[str, Any] = {name: np.asarray(value, dtype=float) for name, value in motion.items()}
    return state | {"lift_lag": np.zeros(foils * strips), "downwash": np.zeros((foils, foils)), "thrust": thrust}


def on_propellers(craft: Craft, count: int, battery: Mapping[str, Any] | None = None, **given: Any) -> Craft:
    """The craft without its rudder on one propeller with curves, or two that steer; `given` changes the propeller, SI."""
    propeller = {"blades": 3, "pitch_ratio": 1.0, "area_ratio": 0.5, "top_speed": 1000.0, "shaft_power": 400.0} | given
    propulsor = {name: getattr(craft.propulsor, name) for name in ("x", "height", "lag", "electronics")}
    propulsor |= {"count": count, "diameter": 0.045 if count == 1 else 0.04, "propeller": propeller}
    description = craft.model_dump() | {"propulsor": propulsor | ({"spacing": 0.24} if count == 2 else {})}
    description["steering"] = {"differential": 0.8 if count == 2 else 0.0}
    return Craft.model_validate(description | {"battery": battery or {}}, context={"si": True})
