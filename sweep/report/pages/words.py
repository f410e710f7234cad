"""The words of the pages in plain ones: a page of all, and of every page those that are met on it."""

from __future__ import annotations

import html
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from sweep.model.quantities import RESPONSE
from sweep.report.display import judged_responses
from sweep.report.page import Made, Material
from sweep.words.numbers import pretty
from sweep.words.phrases import sentence
from sweep.words.responses import response_title

if TYPE_CHECKING:
    from sweep.results.store import Results


class Word(NamedTuple):
    """A word of the pages, what it means, and the address in the craft file of what is chosen."""

    term: str
    meaning: str
    address: str = ""


OTHERWISE = {
    "build": (r"(?<!to )", ""),
    "each foil": (r"(?<!of )", ""),
    "following": (r"(?<!the )", ""),
    "front": ("", "(?!, from)"),
    "spread": (r"(?<!is )", ""),
}
"""What stands before or after a word that means something else."""


def _form(term: str) -> str:
    """The pattern of a word, one or many of it."""
    before, after = OTHERWISE.get(term, ("", ""))
    return rf"{before}{re.escape(term)}(?:s|es|d)?\b{after}"


WORDS = tuple(
    Word(*each)
    for each in (
        ("base craft", "the boat as its file describes it, before any choice: design 0"),
        ("design", "one boat with one value of every choice"),
        ("build", "what has to be built anew to change it: foils, struts, sensors; its settings can be changed at the water"),
        ("setting", "a number of the control code that can be changed at the water, such as a gain"),
        ("condition", "one sea, heading and speed, with a fault or a turn where the campaign plans one"),
        ("replicate", "the same condition again with other waves of the same sea"),
        ("score", "how far a flight is from ideal, as the campaign weighs it; less is better"),
        ("interval", "where the true value surely lies, as far as these flights tell; it is wide where they are few"),
        (
            "good enough",
            "surely within the stated share of the best score, and no limit broken as far as can be told; ‘unless it fails’: "
            "in the flights that it does not fail in, and how often it may fail stands beside it",
        ),
        ("refused", "left out of the ranking, for it broke a limit or a rule"),
        ("spread", "how much a quantity differs from design to design"),
        ("interaction", "what two choices do together beyond what each does by itself"),
        ("front", "the designs that no other beats in both of two quantities"),
        ("knee", "the design on a front from which a little more of one quantity costs much of the other"),
        ("clean", "of a flight: to its end without a touchdown, a broach, a loss of flight or an upset"),
        ("outing", "ten minutes from rest, with turns, a stop and a second start"),
        ("touchdown", "any part of the hull touches the water in flight"),
        ("broach", "a foil comes out of the water, or draws air"),
        ("upset", "the flight is over: the boat rolls or pitches over, goes under or runs aground"),
        ("ventilation", "air runs down to a foil and takes most of its lift"),
        ("drop-out", "a reading of a sensor that does not come"),
        ("trim", "the angles of foils and hull, and the throttle, at which the boat flies steadily"),
        ("ride height", "how high the keel flies over the water"),
        ("ride window", "the heights at which the keel stays clear of the water and the foils stay deep enough"),
        ("rangefinder", "the sensor that measures the distance to the water"),
        ("blind range", "the distance under which a rangefinder cannot see"),
        ("latency", "how old a reading is when the control code gets it"),
        ("height gain", "how far the foils turn for each centimetre of height that is missing"),
        ("integral gain", "how fast the foils go on turning while an error stays"),
        ("rate gain", "how far the foils turn against the speed of a motion: it damps"),
        ("control law", "the rule by which the control code turns the foils"),
        ("level and height", "a control law: all foils together hold roll and pitch level and the height as it is read"),
        ("fused height", "a control law: as level and height, with the height from rangefinders and accelerometer together"),
        (
            "cascaded",
            "a control law: as fused height; an angle that is off asks for a rate of turning, and a second loop holds that",
        ),
        ("each foil", "a control law: each foil answers the rangefinder above it"),
        ("own code", "a control law that the builder wrote, in C, and of which nothing else is known"),
        ("significant height", "the mean height of the highest third of the waves"),
        ("peak period", "the time between crests of the waves that carry most energy"),
        ("following", "of a sea: it comes from astern"),
        ("quartering", "of a sea: it comes from astern and to one side"),
        ("mode", "one way in which the boat moves by itself after a knock: it dies away, or grows"),
        ("margin", "how much more gain, or delay, a loop bears before it swings by itself"),
        ("knot", "a nautical mile an hour: 0.514 m/s"),
        ("RMS", "root mean square: a mean in which large errors count more"),
    )
)
FORMS = {word: re.compile(rf"\b{_form(word.term)}", re.IGNORECASE) for word in WORDS}
LINKED = {word.term.lower(): word for word in WORDS}
TERMS = re.compile(rf"\b(?:{'|'.join(map(_form, sorted(LINKED, key=len, reverse=True)))})", re.IGNORECASE)
SKIPPED = "a|button|code|dl|footer|h[1-6]|head|header|kbd|label|legend|nav|noscript|pre|script|select|style|summary|svg"
PIECES = re.compile(rf"<({SKIPPED})\b.*?</\1>|<[^>]+>|[^<]+", re.DOTALL)
"""What no link may stand in, tags, and the text between them."""
UNSEEN = re.compile(r"<(script|style|svg|code|pre|head|nav)\b.*?</\1>|<[^>]+>", re.DOTALL)
MARK = "<!-- words met -->\n"
"""Where a page has its own words."""


@dataclass(frozen=True)
class WordsPage:
    """All words; chosen: what this campaign chooses, by its names; judged: what it scores and limits."""

    words: list[Word]
    chosen: list[Word]
    judged: list[Word]


def make(material: Material) -> Made:
    """The page."""
    return Made(words_page(material.results), {})


def words_page(results: Results) -> WordsPage:
    """The words in their order, and those of this campaign."""
    campaign = results.campaign
    chosen = [
        Word(factor.name, f"{'a setting' if factor.kind == 'set' else 'of the build'}{_unit(factor.unit)}", label)
        for label, factor in campaign.factors.items()
    ]
    judged = [
        Word(response_title(name), f"{RESPONSE[name].meaning}{_unit(RESPONSE[name].unit)}")
        for name in judged_responses(campaign)
    ]
    return WordsPage(sorted(WORDS, key=lambda word: word.term.lower()), chosen, judged)


def _unit(unit: str) -> str:
    return f", in {pretty(unit)}" if pretty(unit) else ""


def met(page: str) -> list[Word]:
    """The words that a rendered page says."""
    said = html.unescape(UNSEEN.sub(" ", page))
    return sorted((word for word, form in FORMS.items() if form.search(said)), key=lambda word: word.term.lower())


def explained(page: str) -> str:
    """The page with the words that it says, folded, in place of its mark; where each first stands, it leads there."""
    if MARK not in page:
        return page
    lines = [
        f'<dt id="{_anchor(word)}">{html.escape(sentence(word.term))}</dt><dd>{html.escape(word.meaning)}</dd>\n'
        for word in met(page)
    ]
    head = '<details class="fold on-screen" id="words">\n<summary>Words on this page</summary>\n'
    fold = f"{head}<dl>\n{''.join(lines)}</dl>\n</details>\n" if lines else ""
    before, after = page.split(MARK, 1)
    return f"{_linked(before)}{fold}{after}"


def _linked(page: str) -> str:
    """The page with each word a link where it first stands in a text."""
    left = dict(LINKED)

    def link(found: re.Match[str]) -> str:
        word = next((left.pop(term) for term in _terms(found[0]) if term in left), None)
        return found[0] if word is None else f'<a class="term" href="#{_anchor(word)}">{found[0]}</a>'

    return PIECES.sub(lambda piece: piece[0] if piece[0].startswith("<") else TERMS.sub(link, piece[0]), page)


def _terms(text: str) -> list[str]:
    """What a word as it stands may be one or many of."""
    return [text.lower().removesuffix(end) for end in ("", "s", "es", "d")]


def _anchor(word: Word) -> str:
    return f"word-{word.term.lower().replace(' ', '-')}"
