"""The measurements: asked for one by one, or read from a file of answers."""

from __future__ import annotations

import inspect
import json
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from sweep.campaign.text.dimensions import Kind, quantity
from sweep.campaign.text.document import Document, read_document
from sweep.campaign.text.explain import described, problems_of, reason
from sweep.campaign.text.file_kind import ANSWERS, of_sort
from sweep.campaign.text.problems import CampaignError, Problem
from sweep.campaign.text.shapes import bare, fields, metadata
from sweep.starter.groups import Asked
from sweep.starter.measurements import NONE, Measurements
from sweep.words.phrases import listed, together

OTHERS = {*Measurements.optional, "motor"}
QUESTIONS = len(Measurements.model_fields) - 1 - len(OTHERS)  # the name is no measurement
BACK = "back"
HOW_LONG = (
    "With the measurements at hand this takes about ten minutes; to take them all on the boat, an afternoon. "
    f"Every answer is kept, so stop when you like. Type {BACK} to answer the question before once more."
)
"""Both times are judgement."""
Ask = Callable[[str], str]
Answers = Mapping[str, Any]


def read_answers(path: Path) -> tuple[Measurements, Document]:
    """The measurements in a YAML file. Raises CampaignError with everything that is wrong in it."""
    document = of_sort(read_document(path), ANSWERS)
    if document.problems:
        raise CampaignError(document.problems)
    try:
        return Measurements.model_validate(document.plain()), document
    except ValidationError as error:
        raise CampaignError(problems_of(error, document, Measurements)) from None


class BackError(Exception):
    """The builder wants to answer the question before once more."""


def ask_all(ask: Ask, say: Callable[[str], None], begun: Answers, keep: Callable[[Answers], None]) -> None:
    """Ask for what `begun` lacks, each until the answer is valid; `keep` gets all answers after every new one.

    Raises CampaignError if the answers end too early.
    """
    answers, names = dict(begun), [name for name, _ in fields(Measurements)]
    known = list(fields(Measurements))
    left = [number for number, (name, annotation) in enumerate(known) if not _done(name, annotation, begun, names)]
    if left:
        say(HOW_LONG)
    at, again = 0, False
    while at < len(left):
        name, annotation = known[left[at]]
        if why := Measurements.needless(name, answers):
            say(f"\n{name.capitalize()}: not asked, {why}.")
            at, again = at + 1, False
            continue
        if left[at]:
            number = sum(other not in OTHERS for other in names[: left[at]])
            say(f"\n{name.capitalize()}" if name in OTHERS else f"\n{number} of {QUESTIONS}: {name}")

        def told(answer: Any, name: str = name) -> None:
            answers.pop(name, None)
            if answer is not None:
                answers[name] = answer
            for other in [each for each in answers if Measurements.needless(each, answers)]:
                del answers[other]
            keep(answers)

        try:
            if (
                name in Measurements.optional
                and answers.get(name, NONE) == NONE
                and not _any(Measurements.optional[name], ask, say)
            ):
                told(NONE)
            elif isinstance(model := bare(annotation), type) and issubclass(model, Asked):
                _ask_group(name, model, ask, say, (answers.get(name), again), told)
                if why := Measurements.clash(name, answers):
                    say(f"  These do not go with the answers before: wanted {why}. Answer them once more.")
                    told(None)
                    continue
            else:
                told(_ask_one((name,), annotation, Measurements.model_fields[name], ask, say))
            at, again = at + 1, False
        except BackError:
            before = _before(left[at], lambda place: bool(Measurements.needless(known[place][0], answers)))
            again = before is not None
            if before is None:
                say("  This is the first question.")
            elif before in left:
                at = left.index(before)
            else:  # answered before this start
                left.insert(at, before)


def _any(question: str, ask: Ask, say: Callable[[str], None]) -> bool:
    """Whether there is any of what may be left out."""
    while True:
        text = _typed(ask, f"  {question}", ()).lower()
        if text == BACK:
            raise BackError
        if text in ("", "no", "n", NONE):
            return False
        if text in ("yes", "y"):
            return True
        say("  That cannot be: wanted yes, or an empty line for no.")


def _before(at: int, needless: Callable[[int], bool]) -> int | None:
    """The last question before this one that is asked at all; None before the first."""
    return next((place for place in range(at - 1, -1, -1) if not needless(place)), None)


def _done(name: str, annotation: Any, begun: Answers, names: list[str]) -> bool:
    """Whether nothing of a measurement is still to be asked for."""
    if Measurements.needless(name, begun) or begun.get(name) == NONE:
        return True
    model = bare(annotation)
    if name in OTHERS and name not in begun:
        return False
    if isinstance(model, type) and issubclass(model, BaseModel):
        later = any(other in begun for other in names[names.index(name) + 1 :])  # if not, still to be asked for
        return later and _holds(model, begun.get(name, {}))
    return name in begun and _holds(annotation, begun[name])


def _holds(annotation: Any, answer: Any) -> bool:
    """Whether an answer is valid."""
    try:
        TypeAdapter(annotation).validate_python(answer)
    except ValidationError:
        return False
    return True


Told = Callable[[Answers], None]


def _ask_group(
    name: str, model: type[Asked], ask: Ask, say: Callable[[str], None], begun: tuple[Any, bool], told: Told
) -> None:
    """Ask for the numbers of one measurement that are lacking; for all of them again if they do not go together.

    begun: answers so far, and whether to ask for the last one again. Raises BackError from the first question.
    """
    say(inspect.getdoc(model) or "")
    answers = dict(begun[0]) if isinstance(begun[0], dict) else {}
    keys = list(fields(model))
    asked = [each for each in keys if not model.needless(each[0], answers)]
    left = (
        asked[-1:] if begun[1] else [each for each in keys if each[0] not in answers or not _holds(each[1], answers[each[0]])]
    )
    at = 0
    while True:
        while at < len(left):
            key, annotation = left[at]
            if why := model.needless(key, answers):
                skipped = [each for each, _ in left[at:] if model.needless(each, answers) == why]
                said = together([each.replace("_", " ") for each in skipped])
                say(f"  {said}: not asked, {why}.")
                left = [*left[:at], *(each for each in left[at:] if each[0] not in skipped)]
                continue
            try:
                answer = _ask_one((name, key), annotation, model.model_fields[key], ask, say)
            except BackError:
                before = [each for each in keys[: keys.index(left[at])] if not model.needless(each[0], answers)]
                if not before:
                    raise
                later = keys[keys.index(before[-1]) + 1 :]
                left, at = [before[-1], *(each for each in later if each in left[at:] or each[0] not in answers)], 0
                continue
            answers = {k: v for k, v in (answers | {key: answer}).items() if v is not None}
            answers = {k: v for k, v in answers.items() if not model.needless(k, answers)}
            told(answers)
            at += 1
        try:
            model.model_validate(answers)
        except ValidationError as error:
            say("  These do not go together: {}: wanted {}. Answer them once more.".format(*reason(error)))
            answers, left, at = {}, keys, 0
        else:
            told(answers)
            return


def answers_text(answers: Answers) -> str:
    """Answers as the text of a file that `read_answers` reads, a measurement a line."""
    return "# Answers to `foilsweep new` so far.\n" + "".join(f"{key}: {_flow(value)}\n" for key, value in answers.items())


def _flow(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {_flow(item)}" for key, item in value.items()) + "}"
    text = str(value)
    return text if re.fullmatch(r"[-+]?[.\d][\w ./^%*()-]*", text, re.ASCII) else json.dumps(text, ensure_ascii=False)


def _ask_one(at: tuple[str, ...], annotation: Any, field: FieldInfo, ask: Ask, say: Callable[[str], None]) -> Any:
    """One answer as a file would hold it; None if it was left out and may be."""
    optional = not field.is_required()
    prompt = f"  {at[-1].replace('_', ' ')}, {field.description}{_hint(annotation, field)}: "
    while True:
        text = _typed(ask, prompt, at)
        if text.lower() == BACK:
            raise BackError
        if not text and optional:
            return None
        answer = int(text) if text.isascii() and text.isdigit() and bare(annotation) is int else text
        try:
            TypeAdapter(annotation).validate_python(answer)
        except ValidationError as error:
            say(f"  That cannot be: wanted {reason(error)[1]}.")
        else:
            return answer


def _typed(ask: Ask, prompt: str, at: tuple[str, ...]) -> str:
    """What is typed; at: where the answer belongs. Raises CampaignError where the answers end."""
    try:
        return ask(prompt).strip()
    except EOFError:
        wanted = described(Measurements, at) if at else "yes, or an empty line for no"
        raise CampaignError([Problem("answers", 0, 0, ".".join(at), "the end of the answers", wanted)]) from None


def _hint(annotation: Any, field: FieldInfo) -> str:
    """The possible units, and what an empty answer means."""
    kind = next((note for note in metadata(annotation) if isinstance(note, Kind)), None)
    said = [listed(kind.units[:3])] if kind and kind.units else []
    if not field.is_required():
        said.append(
            f"Enter for {quantity(field.default, kind.units[0])}" if kind and field.default else "Enter to leave it out"
        )
    return f" ({'; '.join(said)})" if said else ""
