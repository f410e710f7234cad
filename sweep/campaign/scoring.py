"""The criteria of a campaign: limits that a design must keep, and the weights of its score."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal, Self, TypeAlias

from pydantic import Field, create_model, model_validator

from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import KINDS, Kind, Number, Share
from sweep.campaign.text.problems import wrong
from sweep.model.quantities import RESPONSE_NAMES, RESPONSES

RATES = tuple(response.name for response in RESPONSES if response.unit == "/min")
LARGER_IS_BETTER = tuple(response.name for response in RESPONSES if response.better == "larger")
NEITHER = tuple(response.name for response in RESPONSES if response.better == "neither")
SCORED = tuple(response.name for response in RESPONSES if response.better == "smaller")
# A share limit is about flights: the share of them with at least one event.
SHARES = tuple(response.name for response in RESPONSES if response.unit == "count" and response.better == "smaller")
FROM_REST = tuple(response.name for response in RESPONSES if response.from_rest)

_NAMED = {
    "/min": Kind("a rate", ("/min", "/h")),
    "J/m": Kind("an energy per length", ("J/m", "Wh/km")),
    "count": Kind("a plain number"),
}
COSTS = {
    "mass": (Kind("a mass", ("kg", "g", "lb", "oz")), "mass of the whole craft"),
    "price": (Kind("a price: a plain number, in the currency you like"), "price of the whole craft"),
}
"""What a craft costs, known without a flight: its kind and its meaning."""
COST_UNITS = {"mass": "kg", "price": ""}
"""The units in which people read costs; prices have none."""
_RATE = _NAMED["/min"]
_SHARE = Kind("a share of the flights", ("%",), plain=True)


class Limit(Part):
    """The most that a limit allows: events a second (rate), or the share of flights with the event."""

    value: float
    kind: Literal["rate", "share"]


class Weight(Part):
    """The term of a response in the score: weight x value / scale, value and scale in SI."""

    weight: Number = Field(1.0, gt=0, description="what one scale of it counts in the score")
    scale: float


class Decide(Part):
    """What a choice may cost: designs are good enough whose score is surely within this share of the best."""

    within: Share = Field(gt=0, le=1, description="share of the best score, such as 10 %, that makes no difference to you")


class _Limits(Part):
    """Limits by response: a rate of events, or a share of flights."""

    not_here: ClassVar[dict[str, str]] = {
        name: "a response, but neither counted as events nor as flights"
        for name in RESPONSE_NAMES
        if name not in RATES + SHARES
    }


class _Score(Part):
    """Weights by response; only responses that are better when smaller."""

    not_here: ClassVar[dict[str, str]] = {
        name: "a response, but not one that is better when smaller" for name in RESPONSE_NAMES if name not in SCORED
    }

    @model_validator(mode="after")
    def _of_something(self) -> Self:
        if not self.model_fields_set - set(COSTS):
            raise wrong("at least one response, as ride_height_error: {weight: 1, scale: 1 cm}")
        return self


def _kind(unit: str) -> Kind:
    """The kind of a response shown in this unit, with this unit first among the examples."""
    kind = next((kind for kind in KINDS if unit in kind.units), Kind("a quantity", (unit,)))
    return _NAMED.get(unit, replace(kind, units=tuple(dict.fromkeys((unit, *kind.units)))))


def _limits_model() -> type[_Limits]:
    meanings = {response.name: response.meaning for response in RESPONSES}
    rates: dict[str, Any] = {
        name: (Annotated[float, _RATE], Field(default=None, ge=0, description=f"the most events: {meanings[name]}"))
        for name in RATES
    }
    shares: dict[str, Any] = {
        name: (Annotated[float, _SHARE], Field(default=None, ge=0, le=1, description=f"the most flights: {meanings[name]}"))
        for name in SHARES
    }
    costs: dict[str, Any] = {
        name: (Annotated[float, kind], Field(default=None, gt=0, description=f"the most that is allowed: {meaning}"))
        for name, (kind, meaning) in COSTS.items()
    }
    return create_model("Limits", __base__=_Limits, **rates, **shares, **costs)


def _score_model() -> type[_Score]:
    weights = {
        unit: create_model(
            f"Weight{place}", __base__=Weight, scale=(Annotated[float, _kind(unit)], Field(gt=0, description="what counts 1"))
        )
        for place, unit in enumerate(dict.fromkeys(response.unit for response in RESPONSES))
    }
    chosen: dict[str, Any] = {
        response.name: (weights[response.unit], Field(default=None, description=response.meaning))
        for response in RESPONSES
        if response.name in SCORED
    }
    for name, (kind, meaning) in COSTS.items():
        scale: Any = (Annotated[float, kind], Field(gt=0, description="what counts 1"))
        model = create_model(f"WeightOf{name.capitalize()}", __base__=Weight, scale=scale)
        chosen[name] = (model, Field(default=None, description=meaning))
    return create_model("Score", __base__=_Score, **chosen)


if TYPE_CHECKING:
    LimitsFile: TypeAlias = _Limits
    ScoreFile: TypeAlias = _Score
else:
    LimitsFile, ScoreFile = _limits_model(), _score_model()

DEFAULT_LIMITS = {
    "touchdowns": Limit(value=1 / 60, kind="rate"),
    "broaches": Limit(value=1 / 60, kind="rate"),
    "upsets": Limit(value=0.02, kind="share"),
}
# Ride-height error alone rewards following every wave; the other two pull against it. The scales are a judgement.
DEFAULT_SCORE = {
    "ride_height_error": Weight(weight=1.0, scale=0.01),
    "outside_window": Weight(weight=1.0, scale=0.05),
    "vertical_acceleration": Weight(weight=0.5, scale=1.0),
}


def limits_of(file: LimitsFile | None) -> dict[str, Limit]:
    """Limit by response; the defaults where the file has no limits."""
    if file is None:
        return dict(DEFAULT_LIMITS)
    return {
        name: Limit(value=getattr(file, name), kind="rate" if name in RATES else "share")
        for name in RESPONSE_NAMES
        if name in file.model_fields_set
    }


def cost_limits_of(file: LimitsFile | None) -> dict[str, float]:
    """The most that mass (kg) and price may be, as far as the file limits them."""
    return {name: getattr(file, name) for name in COSTS if file is not None and name in file.model_fields_set}


def cost_weights_of(file: ScoreFile | None) -> dict[str, Weight]:
    """Weight by cost, mass (kg) or price, as far as the file scores them."""
    chosen = ((name, getattr(file, name)) for name in COSTS if file is not None and name in file.model_fields_set)
    return {name: Weight(weight=entry.weight, scale=entry.scale) for name, entry in chosen}


def score_of(file: ScoreFile | None) -> dict[str, Weight]:
    """Weight by response; the defaults where the file has no score."""
    if file is None:
        return dict(DEFAULT_SCORE)
    chosen = ((name, getattr(file, name)) for name in RESPONSE_NAMES if name in file.model_fields_set)
    return {name: Weight(weight=entry.weight, scale=entry.scale) for name, entry in chosen}
