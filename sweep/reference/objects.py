"""The keys of the objects that `--json` writes, one line of JSON on the standard output."""

from __future__ import annotations

EVERY = {
    "format": "a whole number that grows when a key means something else, or is gone",
    "command": "the command, as 'check' or 'log sea'",
    "ok": "whether it did what it was asked to",
    "exit": "the exit code: 0 done, 1 failed, 2 the input is wrong",
}
SENTENCES = {"sentences": "what the command says"}
RUNS = {
    **SENTENCES,
    "title": "of the mapping file",
    "runs": "each run: kind, log, setup, begin, length, speed, heading, waves, measures, sure (with intervals), sea, glitches, "
    "gaps, why",
    "sea": "of all runs together: height and period, each with value, low and high, and a verdict; null if none",
    "doubts": "what looks wrong, a sentence each",
    "withheld": "why sea and comparisons are withheld; '' if they are not",
}
STANDINGS = {
    "title": "of the campaign",
    "folder": "the results folder",
    "site": "the first page; null of rank, which writes none",
    "answer": "what to build, and how sure that is, a sentence each",
    "standings": "every design, best first: the columns of rank --csv",
    "builds": "what has to be built anew, each at its own best settings",
}
OBJECTS: dict[str, dict[str, str]] = {
    "check": {
        "title": "of the campaign",
        "craft": "name of the base craft",
        "designs": "how many fly, the base craft among them; of a search, in its first round",
        "conditions": "how many",
        "replicates": "of each condition",
        "flights": "how many in all, before any fly on",
        "simulated": "s, of all flights together",
        "sentences": "what check says, a sentence each",
        "doubts": "those of them that say what cannot be, or may not be, as it seems",
    },
    "run": STANDINGS,
    "rank": STANDINGS,
    "log read": RUNS,
    "log sea": RUNS,
    "log law": {
        **SENTENCES,
        "title": "of the mapping file",
        "laws": "each set-up: bench, why ('' if it is told), and settings in words: declared, flown, interval, verdict",
    },
    "log compare": {
        **RUNS,
        "comparisons": "each setup, against which other: splits by measure, with the part of the water and of the set-up",
    },
    "log passes": {
        **SENTENCES,
        "title": "of the mapping file",
        "steps": "the passes, in order, a sentence each; absent without a sea to plan by",
        "minutes": "in all",
        "pass_length": "s",
        "hidden": "whether the way back shows no sea",
    },
    "log fit": {
        **RUNS,
        "numbers": "each number: name, before, value, low and high (SI, or a factor), and identified, whether it was told",
        "alike": "pairs that the logs cannot tell apart",
        "misfit": "1 if what is left is chance alone",
    },
    "error": {
        "message": "what went wrong",
        "problems": "each mistake of a file: file, line, column, address, found, wanted",
    },
}
"""What each command writes besides `EVERY`. Numbers are in SI, angles in rad; null: not known."""
