"""`foilsweep new`: a craft file and a campaign from measurements, or a copy of a demo."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from sweep.campaign.craft import Craft
from sweep.campaign.text.document import read_document
from sweep.campaign.text.problems import CampaignError
from sweep.campaign.text.resources import shipped
from sweep.results.plain_files import write_whole
from sweep.starter.asking import Answers, Ask, answers_text, ask_all, read_answers
from sweep.starter.first_craft import MeasurementError, cautions, first_craft
from sweep.starter.guesses import guesses
from sweep.starter.measurements import Measurements
from sweep.starter.writing import campaign_text, craft_text, demo_texts, write_new

ANSWERS = "answers.yaml"
MODEL, MODEL_SPEED = "courier", 4.0  # the demo whose gains are scaled, and the speed at which it flies well with them


def new(folder: Path, answers: Path | None, ask: Ask, say: Callable[[str], None]) -> None:
    """Write a craft and a campaign into a folder, from a file of answers or from what `ask` gives.

    Every answer is kept in the folder at once, and not asked for again. Raises CampaignError for measurements that are
    wrong or contradict each other, and for files that are there already.
    """
    measured, document = read_answers(answers or _asked(folder, ask, say))
    try:
        craft = first_craft(measured, _model(), MODEL_SPEED)
    except MeasurementError as error:
        raise CampaignError([document.problem(error.at, error.wanted, error.found)]) from None
    campaign, _ = paths = write_new(folder, first_texts(measured, craft))
    say("\nWritten: " + ", ".join(map(str, paths)))
    say("Guessed, not measured; the less you trust a guess, the sooner measure it and change it in the craft file:")
    for guess in guesses(measured, craft):
        say(f"  - {guess}.")
    for caution in cautions(measured, craft):
        say(f"Caution: {caution}.")
    say(f"Next: foilsweep check {campaign}")


def _asked(folder: Path, ask: Ask, say: Callable[[str], None]) -> Path:
    """The file of all answers, which may hold earlier ones."""
    path = folder / ANSWERS
    begun = read_document(path).plain() if path.exists() else {}
    if begun:
        say(f"Continuing with the answers in {path}. Change a number there, or delete its line to be asked again.")

    def keep(answers: Answers) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(path, answers_text(answers).encode())

    ask_all(ask, say, begun if isinstance(begun, dict) else {}, keep)
    return path


def first_texts(measured: Measurements, craft: Craft) -> dict[str, str]:
    """The campaign and the craft file by their paths."""
    name = "-".join(measured.name.lower().split())
    return {f"{name}.yaml": campaign_text(craft, measured, f"craft/{name}.yaml"), f"craft/{name}.yaml": craft_text(craft)}


def copy_demo(folder: Path, name: str, say: Callable[[str], None]) -> None:
    """Write a demo's campaign and craft into a folder; raises CampaignError for no such demo or files that are there."""
    paths = write_new(folder, demo_texts(name))
    say("Written: " + ", ".join(map(str, paths)))
    say(f"Next: foilsweep run {paths[0]}")


def _model() -> Craft:
    return Craft.model_validate(read_document(shipped("configs") / "craft" / f"{MODEL}.yaml").plain())
