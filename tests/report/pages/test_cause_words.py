"""Every cause that a rule can name has plain words on the pages."""

from __future__ import annotations

import re
from pathlib import Path

from sweep.insight import causes, following, turning
from sweep.report.pages.causes import PLAIN


def test_every_cause_has_words_for_people() -> None:
    """Names that stand in a rule, by themselves or in a choice of two."""
    text = "".join(Path(module.__file__).read_text(encoding="utf-8") for module in (causes, following, turning))
    named = set(re.findall(r'Cause\(\s*"([^"]+)"', text)) | set(re.findall(r'"((?:\w+ )*(?:in|out of|into) a turn)"', text))
    assert len(named) >= 15
    assert named <= set(PLAIN)
