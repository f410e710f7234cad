"""The foils that are asked for: a pair, and one other or two; and what of them is unlike."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, NamedTuple, Self

from pydantic import Field, model_validator

from sweep.campaign.contradictions import ONE_PLACE
from sweep.campaign.polars import shipped_polars
from sweep.campaign.text.base import OneOf
from sweep.campaign.text.dimensions import Angle, Count, Length, quantity
from sweep.campaign.text.problems import wrong
from sweep.starter.groups import Asked, HullSize, StrutSizes
from sweep.words.phrases import listed


class Placed(NamedTuple):
    """A foil: span and mean chord, how far it is forward of the stern and to starboard, m; whether a servo moves it.

    other: whether it is none of the pair, and so on struts and of a section of its own, if those are told.
    """

    span: float
    chord: float
    at: float
    out: float
    moves: bool = True
    other: bool = False


class FoilSizes(Asked):
    """Use a tape. There are three foils, a pair side by side and one by itself, or four: a pair ahead and another behind.

    Measure places to a quarter chord behind the leading edge. A boat with other foils: foilsweep new --demo ranger-struts.
    """

    ahead: Count = Field(ge=1, le=2, description="how many of the foils are ahead: 1 or 2")
    behind: Count | None = Field(None, ge=1, le=2, description="how many are behind, if there are four foils: 2")
    span: Length = Field(gt=0, description="tip to tip, of each; of unlike foils, of the pair's (of four, the pair's ahead)")
    chord: Length = Field(gt=0, description="leading to trailing edge, the mean")
    ahead_at: Length = Field(description="from the stern to the foils ahead")
    behind_at: Length = Field(description="from the stern to the foils behind; negative if they are behind the stern")
    apart: Length = Field(gt=0, description="between the middles of the two foils of the pair")
    other_span: Length | None = Field(
        None, gt=0, description="tip to tip, of the other foil, or each of the two others, if unlike"
    )
    other_chord: Length | None = Field(None, gt=0, description="its mean chord")
    other_apart: Length | None = Field(None, gt=0, description="between the middles of the two others, if unlike")

    @classmethod
    def needless(cls, key: str, answers: Mapping[str, Any]) -> str:
        """One foil ahead has two behind, and one other foil is not apart from itself."""
        if key == "behind" and str(answers.get("ahead")) == "1":
            return "for behind one foil there are two"
        four = str(answers.get("ahead")) == str(answers.get("behind")) == "2"
        return "for there is one other foil" if key == "other_apart" and not four else ""

    @property
    def others(self) -> tuple[str, ...]:
        """What the foils are called that are not of the pair."""
        if self.ahead == self.behind:
            return "aft-port", "aft-starboard"
        return ("aft",) if self.ahead == 2 else ("bow",)

    @property
    def other(self) -> tuple[float, float]:
        """Span and chord of each other foil, m."""
        return self.other_span or self.span, self.other_chord or self.chord

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.ahead == self.behind == 1:
            raise wrong("2, behind one foil ahead: two foils hold no roll", at=("behind",))
        if self.ahead_at <= self.behind_at:
            found = f"{quantity(self.behind_at, 'cm')} from the stern, with the others at {quantity(self.ahead_at, 'cm')}"
            raise wrong("a place behind that of the foils ahead", found, at=("behind_at",))
        for key, (span, chord) in {"span": (self.span, self.chord), "other_span": self.other}.items():
            if not 1.5 * chord <= span <= 29 * chord:
                raise wrong(f"from 1.5 to 29 chords of {quantity(chord, 'cm')}", at=(key,))
        return self


Polar = Annotated[str, OneOf(shipped_polars())]


class Unlike(Asked):
    """What the starboard foil of the pair has unlike the port one, which foil has no servo, and what the others have unlike
    the pair: struts, section. Leave out what is alike.
    """

    starboard_span: Length | None = Field(None, gt=0, description="tip to tip")
    starboard_chord: Length | None = Field(None, gt=0, description="its mean chord")
    starboard_at: Length | None = Field(None, description="from the stern to it, if the two are not abreast")
    starboard_out: Length | None = Field(None, gt=0, description="from the middle of the boat out to its middle")
    fixed: Annotated[str, OneOf(("port", "starboard", "other"))] | None = Field(
        None, description="the foil without a servo: port, starboard, or other, what is not of the pair"
    )
    fixed_angle: Angle | None = Field(None, ge=-0.35, le=0.35, description="its angle to the keel, nose up")
    other_height: Length | None = Field(None, gt=0, description="keel to foil, of the struts of the other foil or foils")
    other_strut_chord: Length | None = Field(None, gt=0, description="of those struts, leading to trailing edge")
    other_thickness: Length | None = Field(None, gt=0, description="of those struts, at their thickest")
    section: Polar | None = Field(None, description=f"of the pair's foils, if it is {listed(shipped_polars())}")
    other_section: Polar | None = Field(None, description="of the other foil or foils, likewise")

    @classmethod
    def needless(cls, key: str, answers: Mapping[str, Any]) -> str:
        """What moves has no fixed angle."""
        return "for every foil has a servo" if key == "fixed_angle" and "fixed" not in answers else ""

    @model_validator(mode="after")
    def _fixed_at_an_angle(self) -> Self:
        if self.fixed_angle is not None and self.fixed is None:
            raise wrong("fixed beside it: the foil that has this angle", at=("fixed_angle",))
        return self

    @property
    def strut(self) -> dict[str, float]:
        """What the struts of the other foils have of their own, m."""
        own = {"height": self.other_height, "chord": self.other_strut_chord, "thickness": self.other_thickness}
        return {name: value for name, value in own.items() if value is not None}


def foils_of(foils: FoilSizes, own: Unlike) -> dict[str, Placed]:
    """The foils by name."""
    pair, single = (foils.ahead_at, foils.behind_at) if foils.ahead == 2 else (foils.behind_at, foils.ahead_at)
    half, span, chord = foils.apart / 2, own.starboard_span or foils.span, own.starboard_chord or foils.chord
    at = pair if own.starboard_at is None else own.starboard_at
    out = (foils.other_apart or foils.apart) / 2
    sides = (-out, out) if len(foils.others) == 2 else (0.0,)
    return {
        "port": Placed(foils.span, foils.chord, pair, -half, own.fixed != "port"),
        "starboard": Placed(span, chord, at, own.starboard_out or half, own.fixed != "starboard"),
        **{
            name: Placed(*foils.other, single, side, own.fixed != "other", other=True)
            for name, side in zip(foils.others, sides, strict=True)
        },
    }


def check_unlike(foils: FoilSizes, own: Unlike, hull: HullSize, struts: StrutSizes | None = None) -> None:
    """Raises PydanticCustomError for a foil or strut of no possible size, and for foils that cannot hold a pitch."""
    placed = foils_of(foils, own)
    span, chord = placed["starboard"][:2]
    if not 1.5 * chord <= span <= 29 * chord:
        raise wrong(f"from 1.5 to 29 chords of {quantity(chord, 'cm')}", at=("unlike", "starboard_span"))
    if own.fixed == "other" and abs(placed["starboard"].at - placed["port"].at) < ONE_PLACE * hull.length:
        found = "other, while the two foils that move are abreast"
        wanted = "port or starboard: foils that move must be at two places along the boat, or nothing holds its pitch"
        raise wrong(wanted, found, at=("unlike", "fixed"))
    if struts is not None and (strut := struts.model_dump() | own.strut)["thickness"] >= strut["chord"]:
        at = "other_thickness" if own.other_thickness is not None else "other_strut_chord"
        raise wrong(f"a strut thinner than its chord, {quantity(strut['chord'], 'mm')}", at=("unlike", at))
