"""A campaign: a craft, what may be chosen, what the water may do, and how to judge."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal, NamedTuple, TypeAlias, TypeVar

from pydantic import BaseModel, ConfigDict, Discriminator, Field, SerializeAsAny, Tag, ValidationError

from sweep.campaign.addresses import leaves
from sweep.campaign.budget import Budget, BudgetFile
from sweep.campaign.codes import read_codes
from sweep.campaign.contradictions import contradictions
from sweep.campaign.courses import NamedCourse, never_begun
from sweep.campaign.craft import Craft
from sweep.campaign.crossing import foils_in_one_place
from sweep.campaign.design_list import DesignLevels, DesignList, read_list
from sweep.campaign.factors import Factor, FactorFile, FactorReader, at_the_ends, clashes, impossible_pairs
from sweep.campaign.faults import NamedFault, impossible, misplaced, named_faults, out_of_time, unscored
from sweep.campaign.flight import Flight
from sweep.campaign.named_seas import NamedSea
from sweep.campaign.packets import misfits
from sweep.campaign.plan import (
    LEAST_A_ROUND,
    MOST_DESIGNS,
    SEARCH_ROUNDS,
    FullFactorial,
    Listed,
    Plan,
    Search,
    count_designs,
    least_flights,
    uneven,
)
from sweep.campaign.plausible import out_of_proportion, stale_readings, unfelt_wind
from sweep.campaign.polars import is_own
from sweep.campaign.ride_map import MapFile, RideMap, map_misfits, ride_map
from sweep.campaign.rules import MOST_RULES, Rule, RulesFile, excluded_by, read_rules
from sweep.campaign.scoring import (
    FROM_REST,
    Decide,
    Limit,
    LimitsFile,
    ScoreFile,
    Weight,
    cost_limits_of,
    cost_weights_of,
    limits_of,
    score_of,
)
from sweep.campaign.seas import expand, steep_seas
from sweep.campaign.season import season_misfits, season_of
from sweep.campaign.sections import beyond, overruled, read_sections
from sweep.campaign.text.base import Part
from sweep.campaign.text.dimensions import Count
from sweep.campaign.text.document import Document, read_document
from sweep.campaign.text.explain import problems_of
from sweep.campaign.text.file_kind import CAMPAIGN, CRAFT, of_sort
from sweep.campaign.text.problems import CampaignError, Problem
from sweep.campaign.tolerances import ToleranceWord
from sweep.campaign.unknowns import Unknowns
from sweep.campaign.unknowns_file import Read, UnknownsFile, read_unknowns, shared_draws, unfit
from sweep.campaign.water import Conditions, NamedHeading, WaterBody, cases
from sweep.model.quantities import OF_STRENGTH

MOST_OUTINGS = 2000
"""Of each design (judgement)."""
LEAST_SCORED = 1.0
"""s: whether a craft flies is judged over a second (M17.2)."""

CRAFT_WANTED = "the craft file's path, seen from here, or the craft itself"
ModelT = TypeVar("ModelT", bound=BaseModel)
FlyOn: TypeAlias = Literal["usual", "none"]


class CampaignFile(Part):
    """A campaign file, as written."""

    title: str = Field(min_length=1, max_length=120, description="what the pages are headed by")
    craft: Annotated[
        Annotated[str, Tag("path")] | Annotated[Craft, Tag("inline")],
        Discriminator(
            lambda value: {str: "path", dict: "inline"}.get(type(value)),
            custom_error_type="wrong",
            custom_error_message=CRAFT_WANTED,
        ),
    ] = Field(description=CRAFT_WANTED)
    water: WaterBody = WaterBody()
    factors: dict[Annotated[str, Field(min_length=1, max_length=120)], FactorFile] = Field(
        min_length=1, description="what may be chosen, by an address in the craft file or a name of your own"
    )
    rules: RulesFile = Field({}, max_length=MOST_RULES, description="by name: what a design must keep, or is not flown")
    plan: Plan = Field(FullFactorial(kind="full-factorial"), description="which combinations of the factors are designs")
    budget: BudgetFile | None = Field(
        None, description="what may be spent, in a race of the designs; without it everything is flown"
    )
    conditions: Conditions
    flight: Flight = Flight()
    limits: LimitsFile = Field(default=None, description="the most that is allowed, by response")  # type: ignore[assignment]
    score: ScoreFile = Field(default=None, description="weight and scale by response; smaller is better")  # type: ignore[assignment]
    fly_on: FlyOn = Field("usual", description="usual: fly the leading designs on until they are told apart; or none")
    decide: Decide | None = Field(None, description="which designs are good enough to choose from")
    map: MapFile = MapFile()
    tolerances: ToleranceWord = Field("none", description="usual: fly the leaders once more, each as built a little off")
    outings: Count = Field(
        0, ge=0, le=MOST_OUTINGS, description="whole outings of each leader: ten minutes from rest, with turns and a stop"
    )
    unknowns: UnknownsFile = Field(
        "none",
        description="what nobody knows of the boat, drawn with the replicates: none, usual, ranges by address, or a file",
    )


class Campaign(BaseModel):
    """A campaign that can be flown: everything in SI, ranges and wildcards resolved."""

    model_config = ConfigDict(frozen=True)

    title: str
    name: str
    craft: Craft
    water: WaterBody
    factors: dict[str, Factor]
    rules: tuple[Rule, ...] = ()
    plan: Plan
    budget: Budget | None = None
    seas: tuple[SerializeAsAny[NamedSea], ...]
    headings: tuple[NamedHeading, ...]
    speeds: tuple[float, ...]
    faults: tuple[NamedFault, ...]
    courses: tuple[NamedCourse, ...] = (NamedCourse(),)
    replicates: int
    season: tuple[float, ...] = ()
    """How much each condition counts, 1 on average; empty where all count alike."""
    flight: Flight
    limits: dict[str, Limit]
    score: dict[str, Weight]
    cost_limits: dict[str, float] = {}
    cost_weights: dict[str, Weight] = {}
    fly_on: FlyOn = "none"
    decide: Decide | None = None
    map: RideMap | None = None
    tolerances: ToleranceWord = "none"
    outings: int = 0
    unknowns: Unknowns | None = None
    warnings: tuple[str, ...]
    listed: tuple[DesignLevels, ...] = ()
    searched: tuple[tuple[float, ...], ...] = ()
    """Designs of a search that are decided so far, as shares of each factor's range or levels: its journal has them."""
    campaign_text: str
    craft_text: str
    listed_text: str = ""
    polar_texts: dict[str, str] = {}
    drawn_texts: dict[str, str] = {}

    def __repr__(self) -> str:
        """One line, for a notebook; `model_dump` has all of it."""
        conditions = f"{len(self.seas)} seas, {len(self.headings)} headings, {len(self.speeds)} speeds"
        return f"<Campaign {self.title!r}: {self.craft.name}, {len(self.factors)} factors, {conditions}>"

    __str__ = __repr__


def load_campaign(
    path: str | Path,
    *,
    craft: str | Path | None = None,
    listed: str | Path | None = None,
    polars: str | Path | None = None,
    name: str | None = None,
) -> Campaign:
    """Read a campaign, its craft, and its designs if they are listed. Raises CampaignError with everything that is wrong.

    For files that were copied: `craft` and `listed` replace the paths in the campaign, `polars` the folder of the builder's own
    polars, `name` the file's stem.
    """
    path = Path(path)
    document = of_sort(read_document(path), CAMPAIGN)
    parts = _parts(document, path.parent, craft, polars)
    file, base, factors, craft_document, drawn = parts.file, parts.base, parts.factors, parts.craft_document, parts.drawn
    rows = _listed(file.plan, Path(listed) if listed else path.parent, document, craft_document, factors, base)
    seas = expand(file.conditions.seas, file.water.depth)
    shown = ride_map(file.map, file.conditions, seas, file.water.depth)
    faults = named_faults(file.conditions.faults, base)
    courses = tuple(NamedCourse(name=name, legs=legs) for name, legs in file.conditions.courses.items())
    met = list(cases(seas, file.conditions.headings, file.conditions.speeds, faults, courses))
    return Campaign(
        title=file.title,
        name=name or path.stem,
        craft=base,
        water=file.water,
        factors=factors,
        rules=parts.rules,
        plan=file.plan,
        budget=file.budget,
        seas=seas,
        headings=file.conditions.headings,
        speeds=file.conditions.speeds,
        faults=faults,
        courses=courses,
        replicates=file.conditions.replicates,
        season=season_of(file.conditions.season, file.conditions.seas, met),
        flight=file.flight,
        limits=limits_of(file.limits),
        score=score_of(file.score),
        cost_limits=cost_limits_of(file.limits),
        cost_weights=cost_weights_of(file.score),
        fly_on=file.fly_on,
        decide=file.decide,
        map=shown,
        tolerances=file.tolerances,
        outings=file.outings,
        unknowns=drawn.unknowns,
        warnings=_warnings(file, base, factors, seas, shown),
        listed=rows.designs,
        campaign_text=document.text,
        craft_text="" if craft_document.base else craft_document.text,
        listed_text=rows.text,
        polar_texts=parts.polar_texts,
        drawn_texts={drawn.name: drawn.text} if drawn.text else {},
    )


class _Parts(NamedTuple):
    """What a campaign is made of, read and found right."""

    file: CampaignFile
    base: Craft
    craft_document: Document
    factors: dict[str, Factor]
    rules: tuple[Rule, ...]
    drawn: Read
    polar_texts: dict[str, str]


def _parts(document: Document, folder: Path, craft: str | Path | None, polars: str | Path | None) -> _Parts:
    """Read all parts; craft, polars: as for `load_campaign`. Raises CampaignError with everything that is wrong."""
    problems: list[Problem] = []
    craft_document = _craft_document(document, folder, craft, problems)
    file = _check(CampaignFile, document, problems, depth=_depth(document))
    base = _check(Craft, craft_document, problems) if craft_document else None
    factors = _read_factors(document, craft_document, base, problems) if craft_document else {}
    polar_texts: dict[str, str] = {}
    if base and craft_document:
        base, polar_texts = _with_polars(base, factors, document, craft_document, polars, problems)
        place = Path(polars).parent / "code" if polars else Path(craft_document.file).parent
        codes = read_codes(base, factors, document, craft_document, place)
        problems += codes.problems
        base = base.model_copy(update={"codes": codes.texts})
    drawn = Read(None)
    if not problems and file and base:  # files that were copied lie in folders of their own
        drawn = _unknowns(file, base, factors, document, folder / ("unknowns" if polars else "."))
        problems += drawn.problems
    rules: tuple[Rule, ...] = ()
    wrong: list[Problem] = []
    if file and base and craft_document and len(factors) == len(file.factors):
        rules, wrong = read_rules(file.rules, document, leaves(craft_document.plain()), factors, base)
    if not problems and file and base and craft_document:
        problems += _of_the_whole(file, base, factors, rules, document)
        problems += foils_in_one_place(base, {} if isinstance(file.plan, Listed) else factors, document, craft_document)
        problems += contradictions(base, file.water.for_model(), file.flight.start == "rest", document, craft_document)
    problems += wrong
    if problems or not file or not base or not craft_document:
        raise CampaignError(problems)
    return _Parts(file, base, craft_document, factors, rules, drawn, polar_texts)


def _warnings(
    file: CampaignFile, base: Craft, factors: Mapping[str, Factor], seas: tuple[NamedSea, ...], shown: RideMap | None
) -> tuple[str, ...]:
    """Cautions: what is allowed but may be a mistake."""
    speeds = (*file.conditions.speeds, *(shown.speeds if shown else ()))
    reach = beyond(base, factors, speeds, file.water.for_model().viscosity)
    odd = (*out_of_proportion(base, factors), *unscored(file.conditions.faults, file.flight.settle))
    unfelt = (*stale_readings(base, factors), *unfelt_wind(base, factors, seas))
    return (*odd, *steep_seas(seas, file.water.depth), *unfelt, *uneven(file.plan), *reach)


def _with_polars(
    craft: Craft, factors: Mapping[str, Factor], document: Document, craft_document: Document,
    folder: str | Path | None, problems: list[Problem],
) -> tuple[Craft, dict[str, str]]:  # fmt: skip
    """The craft with every polar that it or a factor names, and the texts of the builder's own polars; mistakes are noted."""
    place = Path(folder) if folder is not None else Path(craft_document.file).parent
    polars, wrong = read_sections(craft, factors, document, craft_document, place)
    problems += wrong
    sections = {name: polar.section for name, polar in polars.items()}
    texts = {name: polar.text for name, polar in polars.items() if is_own(name)}
    return craft.model_copy(update={"polars": sections}), texts


def _unknowns(file: CampaignFile, base: Craft, factors: Mapping[str, Factor], document: Document, folder: Path) -> Read:
    read, replicates = read_unknowns(file.unknowns, base, factors, document, folder), file.conditions.replicates
    if read.unknowns is None:
        return read
    unknowns = shared_draws(read.unknowns, factors, replicates)
    beside = "search" if file.plan.kind == "search" else "budget" if file.budget else ""
    misfits = unfit(unknowns, replicates, beside, document)
    return read._replace(unknowns=unknowns, problems=[*read.problems, *misfits])


def _craft_document(document: Document, folder: Path, instead: str | Path | None, problems: list[Problem]) -> Document | None:
    """The craft's file, or the campaign's if the craft is in it."""
    named = document.place(("craft",))
    if not named.address:
        return None
    if isinstance(named.node.value, dict):
        return replace(document, base=("craft",))
    if not isinstance(named.node.value, str):
        return None
    path = Path(instead) if instead is not None else folder / named.node.value
    try:
        return of_sort(read_document(path), CRAFT)
    except CampaignError as error:
        there = any(problem.line for problem in error.problems)
        found = f"{named.node.found()}, where there is {error.problems[0].found}"
        problems += error.problems if there else [document.problem(("craft",), CRAFT_WANTED, found)]
        return None


def _listed(
    plan: Plan, place: Path, document: Document, craft_document: Document, factors: Mapping[str, Factor], base: Craft
) -> DesignList:
    """The designs of a plan with a list: from its file in the folder `place`, or from `place` itself."""
    if not isinstance(plan, Listed):
        return DesignList((), "")
    path = place / plan.file if place.is_dir() else place
    try:
        return read_list(path, factors, leaves(craft_document.plain()), base)
    except CampaignError as error:
        if any(problem.line for problem in error.problems):
            raise
        found = f"{plan.file!r}, where there is {error.problems[0].found}"
        raise CampaignError([document.problem(("plan", "file"), "the path of a CSV, seen from here", found)]) from None


def _check(model: type[ModelT], document: Document, problems: list[Problem], **context: object) -> ModelT | None:
    """The model of a document, or None with its mistakes noted; if YAML parts are forbidden, only those are noted."""
    if document.problems:
        problems += document.problems
        return None
    try:
        return model.model_validate(document.plain(), context=context)
    except ValidationError as error:
        problems += problems_of(error, document, model)
        return None


def _depth(document: Document) -> float:
    """The water's depth as far as the file has it: seas are checked against it whatever else is wrong."""
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
        except ValidationError:  # reported with the rest of the file
            continue
        if isinstance(label, str) and (factor := reader.read(label, file)):
            factors[factor.label] = factor
    problems += [*reader.problems, *clashes(factors, document)]
    return factors


def _unknown_strength(file: CampaignFile, crafts: Sequence[Craft], document: Document) -> Iterator[Problem]:
    """Limits and scores of strength where a part has no material: what is not known cannot be judged."""
    unsaid = next((name for craft in crafts for name in craft.without_material()), None)
    if unsaid is None:
        return
    for kind, judged in (("limits", limits_of(file.limits)), ("score", score_of(file.score))):
        for name in (name for name in judged if name in OF_STRENGTH):
            wanted = f"material: of the struts, of every foil and rudder, or no {name}"
            yield document.problem((kind, name), wanted, f"{name}, while {unsaid} has no material")


def _of_the_whole(
    file: CampaignFile, base: Craft, factors: Mapping[str, Factor], rules: Sequence[Rule], document: Document
) -> Iterator[Problem]:
    """Mistakes that show only when every part is valid by itself."""
    crafts = [base, *at_the_ends(base, factors.values())]
    if not isinstance(file.plan, Listed):  # whose rows are checked one by one
        yield from impossible_pairs(factors, base, document, lambda values: excluded_by(rules, values))
    for name in (name for name in FROM_REST if file.flight.start == "flying" and name in score_of(file.score)):
        found = f"{name}, while the flights start flying"
        yield document.problem(("score", name), "flight: {start: rest}, or another response", found)
    for misfit in misfits(file.conditions, file.flight, file.water.depth):
        yield document.problem(("conditions", "seas", *misfit.at), misfit.wanted, misfit.found)
    yield from _unknown_strength(file, crafts, document)
    yield from overruled(base, factors, file.conditions.faults, document)
    yield from _courses(file, document)
    for place in out_of_time(file.conditions.faults, file.flight.length):
        yield document.problem(("conditions", "faults", *place.at), place.wanted)
    nowhere = [*misplaced(file.conditions.faults, crafts)]
    for fault in nowhere or impossible(file.conditions.faults, crafts):
        yield document.problem(("conditions", "faults", *fault.at), fault.wanted)
    if not nowhere:
        yield from season_misfits(file.conditions, base, document)
    for misfit in map_misfits(file.map, expand(file.conditions.seas, file.water.depth), file.water.depth):
        yield document.problem(("map", *misfit.at), misfit.wanted, misfit.found)
    if file.plan.kind == "full-factorial":
        for label, factor in factors.items():
            if factor.continuous:
                wanted = "levels: how many steps of the range a full factorial takes (at least 2)"
                yield document.problem(("factors", label), wanted, "a range without levels")
    yield from _no_search(file, factors, document)
    if file.rules and file.plan.kind == "variance-based":
        wanted = "plan: {kind: sobol, designs: 256}: shares of a variance are of factors that know no rules"
        yield document.problem(("plan",), wanted, "a variance-based plan beside rules")
    designs = count_designs(file.plan, factors)
    if designs > MOST_DESIGNS:
        wanted = f"at most {MOST_DESIGNS:,} (fewer levels, or plan: {{kind: latin-hypercube, designs: 2000}})"
        yield document.problem(("plan",), wanted, f"{designs:,} designs")
    yield from _too_little(file, designs, document)
    if file.flight.scored < LEAST_SCORED:
        found = f"{file.flight.settle:g} s, which leaves {file.flight.scored:.3g} s to judge"
        wanted = f"at least {LEAST_SCORED:g} s after it: no shorter flight shows whether it stays up"
        yield document.problem(("flight", "settle"), wanted, found)


def _courses(file: CampaignFile, document: Document) -> Iterator[Problem]:
    """Mistakes of courses and outings: a leg after the flight, or a packet of waves, which meets what goes straight."""
    conditions = file.conditions
    seas = conditions.seas.values()
    if file.outings and all([*sea.packets()] for sea in seas):
        yield document.problem(("outings",), "0, or another sea: no outing goes through a packet of waves, which passes once")
    for never in never_begun(conditions.courses, file.flight, min(conditions.speeds)):
        yield document.problem(("conditions", "courses", *never.at), never.wanted, never.found)
    if all(conditions.courses.values()) and any([*sea.packets()] for sea in seas):
        wanted = "straight: [] among them, for the packet of waves, which meets only a craft that goes straight"
        yield document.problem(("conditions", "courses"), wanted, "none without legs")


def _no_search(file: CampaignFile, factors: Mapping[str, Factor], document: Document) -> Iterator[Problem]:
    """Mistakes of a search: nothing to search in, or its number of designs said twice or not at all."""
    if not isinstance(file.plan, Search):
        return
    if factors and not any(factor.continuous for factor in factors.values()):
        wanted = "a factor with a range without levels, as {from: 14 cm, to: 22 cm}; lists alone fly as plan: full-factorial"
        yield document.problem(("plan",), wanted, "a search where every factor is a list of levels")
    if (file.plan.designs is None) == (file.budget is None):
        both = f"designs: {file.plan.designs}, and a budget too" if file.budget else "neither designs nor a budget"
        yield document.problem(
            ("plan",), "either {kind: search, designs: 1200}, or a budget that a search without designs spends", both
        )


def _too_little(file: CampaignFile, designs: int, document: Document) -> Iterator[Problem]:
    """The mistake of a budget in which not every design flies once."""
    least, of_what = designs + 1, f"one flight of each of {designs + 1} designs"
    if isinstance(file.plan, Search):
        least = least_flights(_conditions(file), file.conditions.replicates)
        of_what = f"{SEARCH_ROUNDS} rounds of {LEAST_A_ROUND} designs, and a final"
    if file.budget and file.budget.simulated and file.budget.simulated < least * file.flight.length:
        wanted = f"at least {least * file.flight.length:.0f} s: {of_what}"
        yield document.problem(("budget",), wanted, f"{file.budget.simulated:g} s")


def _conditions(file: CampaignFile) -> int:
    """How many conditions there are."""
    seas = expand(file.conditions.seas, file.water.depth)
    courses = file.conditions.courses.values()
    ways = [
        sum(not (legs and sea.passes) for legs in courses) * (len(file.conditions.headings) if sea.directed else 1)
        for sea in seas
    ]
    return sum(ways) * len(file.conditions.speeds) * len(file.conditions.faults)
