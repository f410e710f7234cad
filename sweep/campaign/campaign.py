"""A campaign: a craft, what may be chosen, what the water may do, and how to judge."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Literal, Self, TypeVar

from pydantic import BaseModel, ConfigDict, Discriminator, Field, GetJsonSchemaHandler, Tag, ValidationError, model_validator
from pydantic_core import CoreSchema

from sweep.campaign.addresses import leaves
from sweep.campaign.craft import Craft, Part
from sweep.campaign.explain import problems_of
from sweep.campaign.factors import Factor, FactorFile, FactorReader, clashes, impossible_pairs
from sweep.campaign.judging import Limit, LimitsFile, ScoreFile, Weight, limits_of, score_of
from sweep.campaign.problems import CampaignError, Problem, wrong
from sweep.campaign.reading import Document, read_document
from sweep.campaign.units import Count, Duration
from sweep.campaign.water import Conditions, NamedHeading, NamedSea, WaterBody, expand, steep_seas

MOST_DESIGNS = 5_000_000
CRAFT_WANTED = "the craft file's path, seen from here, or the craft itself"
ModelT = TypeVar("ModelT", bound=BaseModel)


class Plan(Part):
    """How designs are laid out over the factors."""

    kind: Literal["full-factorial", "latin-hypercube"] = "full-factorial"
    designs: Count | None = Field(None, ge=1, le=MOST_DESIGNS, description="how many, besides the base craft")
    seed: Count = Field(0, ge=0, lt=2**63)

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """The word alone will do for a full factorial."""
        return {"anyOf": [{"const": "full-factorial"}, dict(handler.resolve_ref_schema(handler(schema)))]}

    @model_validator(mode="before")
    @classmethod
    def _word(cls, value: object) -> object:
        return {"kind": value} if isinstance(value, str) else value

    @model_validator(mode="after")
    def _designs_where_due(self) -> Self:
        if (self.designs is None) == (self.kind == "latin-hypercube"):
            wanted = "{kind: latin-hypercube, designs: 200}" if self.designs is None else "no designs: the levels say how many"
            raise wrong(wanted, f"{self.kind} {'without' if self.designs is None else 'with'} designs", at=("designs",))
        return self


class Flight(Part):
    """How long a flight is: `length` in all, of which `settle` at the start is not scored; s."""

    length: Duration = Field(30.0, gt=0, le=3600)
    settle: Duration = Field(5.0, gt=0, description="at the start, not scored")
    seed: Count = Field(0, ge=0, lt=2**63)

    @model_validator(mode="after")
    def _something_is_scored(self) -> Self:
        if self.settle >= self.length:
            raise wrong("settle shorter than length: only what follows is scored", at=("settle",))
        return self


class CampaignFile(Part):
    """A campaign file, as written."""

    title: str = Field(min_length=1, max_length=120)
    craft: Annotated[
        Annotated[str, Tag("path")] | Annotated[Craft, Tag("inline")],
        Discriminator(
            lambda value: {str: "path", dict: "inline"}.get(type(value)),
            custom_error_type="wrong",
            custom_error_message=CRAFT_WANTED,
        ),
    ] = Field(description=CRAFT_WANTED)
    water: WaterBody = WaterBody()
    factors: dict[Annotated[str, Field(min_length=1, max_length=120)], FactorFile] = Field(min_length=1)
    plan: Plan = Plan()
    conditions: Conditions
    flight: Flight = Flight()
    limits: LimitsFile = Field(default=None, description="the most that is allowed, by response")  # type: ignore[assignment]
    score: ScoreFile = Field(default=None, description="weight and scale by response; smaller is better")  # type: ignore[assignment]


class Campaign(BaseModel):
    """A campaign that can be flown: everything in SI, ranges and wildcards resolved."""

    model_config = ConfigDict(frozen=True)

    title: str
    name: str
    craft: Craft
    water: WaterBody
    factors: dict[str, Factor]
    plan: Plan
    seas: tuple[NamedSea, ...]
    headings: tuple[NamedHeading, ...]
    speeds: tuple[float, ...]
    faults: tuple[str, ...]
    replicates: int
    flight: Flight
    limits: dict[str, Limit]
    score: dict[str, Weight]
    warnings: tuple[str, ...]
    campaign_text: str
    craft_text: str


def load_campaign(path: str | Path, *, craft: str | Path | None = None, name: str | None = None) -> Campaign:
    """Read a campaign and its craft. Raises CampaignError with everything that is wrong in both files.

    `craft` replaces the path that the campaign gives, `name` the file's stem: for files that were copied elsewhere.
    """
    path = Path(path)
    document = read_document(path)
    problems: list[Problem] = []
    craft_document = _craft_document(document, path.parent, craft, problems)
    file = _check(CampaignFile, document, problems, depth=_depth(document))
    base = _check(Craft, craft_document, problems) if craft_document else None
    factors = _read_factors(document, craft_document, base, problems) if craft_document else {}
    if not problems and file and base:
        problems += _of_the_whole(file, base, factors, document)
    if problems or not file or not base or not craft_document:
        raise CampaignError(problems)
    seas = expand(file.conditions.seas)
    return Campaign(
        title=file.title,
        name=name or path.stem,
        craft=base,
        water=file.water,
        factors=factors,
        plan=file.plan,
        seas=seas,
        headings=file.conditions.headings,
        speeds=file.conditions.speeds,
        faults=file.conditions.faults,
        replicates=file.conditions.replicates,
        flight=file.flight,
        limits=limits_of(file.limits),
        score=score_of(file.score),
        warnings=steep_seas(seas, file.water.depth),
        campaign_text=document.text,
        craft_text="" if craft_document.base else craft_document.text,
    )


def count_designs(plan: Plan, factors: Mapping[str, Factor]) -> int:
    """How many designs the plan lays out, the base craft not counted."""
    return plan.designs if plan.designs is not None else math.prod(len(factor.levels) for factor in factors.values())


def _craft_document(document: Document, folder: Path, instead: str | Path | None, problems: list[Problem]) -> Document | None:
    """The craft's file, or the campaign's own where the craft stands in it."""
    named = document.place(("craft",))
    if not named.address:
        return None
    if isinstance(named.node.value, dict):
        return replace(document, base=("craft",))
    if not isinstance(named.node.value, str):
        return None
    path = Path(instead) if instead is not None else folder / named.node.value
    try:
        return read_document(path)
    except CampaignError as error:
        there = any(problem.line for problem in error.problems)
        found = f"{named.node.found()}, where there is {error.problems[0].found}"
        problems += error.problems if there else [document.problem(("craft",), CRAFT_WANTED, found)]
        return None


def _check(model: type[ModelT], document: Document, problems: list[Problem], **context: object) -> ModelT | None:
    """The model of a document, or None with what is wrong noted; of a document with forbidden parts, only those are told."""
    if document.problems:
        problems += document.problems
        return None
    try:
        return model.model_validate(document.plain(), context=context)
    except ValidationError as error:
        problems += problems_of(error, document, model)
        return None


def _depth(document: Document) -> float:
    """The water's depth as far as the file tells it: seas are checked against it whatever else is wrong."""
    try:
        return WaterBody.model_validate({"depth": document.plain(("water", "depth"))}).depth
    except ValidationError:
        return WaterBody().depth


def _read_factors(
    document: Document, craft_document: Document, base: Craft | None, problems: list[Problem]
) -> dict[str, Factor]:
    reader = FactorReader(document, leaves(craft_document.plain()), base)
    entries = None if document.problems or craft_document.problems else document.plain(("factors",))
    factors: dict[str, Factor] = {}
    for label, entry in entries.items() if isinstance(entries, dict) else ():
        try:
            file = FactorFile.model_validate(entry)
        except ValidationError:  # told with the rest of the file
            continue
        if isinstance(label, str) and (factor := reader.read(label, file)):
            factors[factor.label] = factor
    problems += [*reader.problems, *clashes(factors, document)]
    return factors


def _of_the_whole(file: CampaignFile, base: Craft, factors: Mapping[str, Factor], document: Document) -> Iterator[Problem]:
    """What only shows when every part is right by itself."""
    yield from impossible_pairs(factors, base, document)
    if file.plan.kind == "full-factorial":
        for label, factor in factors.items():
            if factor.continuous:
                wanted = "levels: how many steps of the range a full factorial takes (at least 2)"
                yield document.problem(("factors", label), wanted, "a range without levels")
    designs = count_designs(file.plan, factors)
    if designs > MOST_DESIGNS:
        wanted = f"at most {MOST_DESIGNS:,} (fewer levels, or plan: {{kind: latin-hypercube, designs: 2000}})"
        yield document.problem(("plan",), wanted, f"{designs:,} designs")
