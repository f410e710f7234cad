"""Where the measurements come from: asked for one by one, or read from a file of answers."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from sweep.campaign.explain import described, problems_of, reason
from sweep.campaign.problems import CampaignError, Problem, listed
from sweep.campaign.reading import Document, read_document
from sweep.campaign.shapes import bare, fields, metadata
from sweep.campaign.units import Kind, quantity
from sweep.starter.first_craft import MeasurementError
from sweep.starter.measurements import Measurements

QUESTIONS = len(Measurements.model_fields) - 1  # the name is no measurement
Ask = Callable[[str], str]


def read_answers(path: Path) -> tuple[Measurements, Document]:
    """The measurements of a YAML file. Raises CampaignError with everything that is wrong in it."""
    document = read_document(path)
    if document.problems:
        raise CampaignError(document.problems)
    try:
        return Measurements.model_validate(document.plain()), document
    except ValidationError as error:
        raise CampaignError(problems_of(error, document, Measurements)) from None


def ask_all(ask: Ask, say: Callable[[str], None]) -> Measurements:
    """Ask for everything, each until the answer will do. Raises CampaignError where the answers end too early."""
    answers: dict[str, Any] = {}
    for number, (name, annotation) in enumerate(fields(Measurements)):
        model = bare(annotation)
        if number:
            say(f"\n{number} of {QUESTIONS}: {name}")
        answers[name] = (
            _ask_group(name, model, ask, say)
            if isinstance(model, type) and issubclass(model, BaseModel)
            else _ask_one((name,), annotation, Measurements.model_fields[name], ask, say)
        )
    return Measurements.model_validate(answers)


def _ask_group(name: str, model: type[BaseModel], ask: Ask, say: Callable[[str], None]) -> dict[str, Any]:
    """Ask for the numbers of one measurement; all of them again if they do not go together."""
    say(inspect.getdoc(model) or "")
    while True:
        answers = {
            key: _ask_one((name, key), annotation, model.model_fields[key], ask, say) for key, annotation in fields(model)
        }
        answers = {key: answer for key, answer in answers.items() if answer is not None}
        try:
            model.model_validate(answers)
        except ValidationError as error:
            say("  Not so: {}, wanted {}. Once more.".format(*reason(error)))
        else:
            return answers


def _ask_one(at: tuple[str, ...], annotation: Any, field: FieldInfo, ask: Ask, say: Callable[[str], None]) -> Any:
    """One answer as a file would hold it; None where it was left out and may be."""
    optional = not field.is_required()
    prompt = f"  {at[-1].replace('_', ' ')}, {field.description}{_hint(annotation, field)}: "
    while True:
        try:
            text = ask(prompt).strip()
        except EOFError:
            wanted = described(Measurements, at)
            raise CampaignError([Problem("answers", 0, 0, ".".join(at), "the end of the answers", wanted)]) from None
        if not text and optional:
            return None
        answer = int(text) if text.isascii() and text.isdigit() and bare(annotation) is int else text
        try:
            TypeAdapter(annotation).validate_python(answer)
        except ValidationError as error:
            say(f"  Not so: wanted {reason(error)[1]}.")
        else:
            return answer


def _hint(annotation: Any, field: FieldInfo) -> str:
    """The units that suit, and what an empty answer stands for."""
    kind = next((note for note in metadata(annotation) if isinstance(note, Kind)), None)
    said = [listed(kind.units[:3])] if kind and kind.units else []
    if not field.is_required():
        said.append(
            f"Enter for {quantity(field.default, kind.units[0])}" if kind and field.default else "Enter to leave it out"
        )
    return f" ({'; '.join(said)})" if said else ""


def problem_of(error: MeasurementError, document: Document | None) -> Problem:
    """Where measurements do not go together, as a problem of the file that they came from."""
    if document is not None:
        return document.problem(error.at, error.wanted, error.found)
    return Problem("answers", 0, 0, ".".join(error.at), error.found, error.wanted)
