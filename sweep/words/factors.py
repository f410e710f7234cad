"""What a factor is called among people, from the address that it has in the craft file."""

from __future__ import annotations

_ONE_OF = {
    **{"foils": "foil", "struts": "strut", "rangefinders": "rangefinder"},
    **{"servos": "servo", "hulls": "hull", "wands": "wand"},
}
_UNSAID = ("control", "propulsor")
"""Parts that go without saying before a part of theirs."""
_GAINS = {"proportional": "gain", "integral": "integral gain", "derivative": "rate gain"}


def factor_name(label: str) -> str:
    """'struts.height' -> 'strut height', 'foils.*.area' -> 'foil area', 'control.pitch.derivative' -> 'pitch rate gain'.

    A name that the campaign gives stays as it is, with spaces for its dashes.
    """
    if "." not in label:
        return label.replace("-", " ").replace("_", " ").strip()
    first, *rest = label.split(".")
    words = [] if first in _UNSAID and len(rest) > 1 else [_ONE_OF.get(first, first)]
    if words and first in _ONE_OF and len(rest) > 1:
        one, *rest = rest
        words = [*([] if one == "*" else [one]), *words]
    words += [_GAINS.get(word, word) for word in rest if word != "*"]
    return " ".join(words).replace("-", " ").replace("_", " ")
