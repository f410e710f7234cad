"""The exported code's own sine, cosine and arc tangent, against those of Python's mathematical library."""

from __future__ import annotations

import math
import subprocess
from pathlib import Path

import pytest

from sweep.export.compose import PARTS
from tests.export.compiled import COMPILER, STRICT, needs_compiler

MAIN = """
#include <stdio.h>
int main(void)
{
    double angle;
    while (scanf("%lf", &angle) == 1) {
        struct turn turn = turn_of(angle);
        printf("%.17g %.17g %.17g %.17g\\n", turn.sine, turn.cosine, direction(3 * turn.sine, 3 * turn.cosine),
               wrapped(clip(angle, -2 * PI, 2 * PI)));
    }
    printf("%.17g %.17g %.17g\\n", direction(0, 0), direction(2, 0), direction(0, -2));
    return square_root(4) == 2 ? 0 : 1;
}
"""
ANGLES = [k * math.pi / 180.0 + off for k in range(-540, 541, 3) for off in (0.0, 1e-9, 0.0123)]


@needs_compiler
def test_it_is_good_to_its_word(tmp_path: Path) -> None:
    """To 1e-8 in double, within one and a half turns, at every quarter turn and where the formulas change."""
    head = "#include <math.h>\ntypedef double number;\n#define CONTROL_DOUBLE\nstruct turn { number sine, cosine; };\n"
    (tmp_path / "main.c").write_text(head + (PARTS / "arithmetic.c").read_text(encoding="utf-8") + MAIN)
    command = [COMPILER or "", *STRICT, "main.c", "-lm", "-o", "program"]
    found = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert found.returncode == 0, found.stderr
    given = "\n".join(map(repr, ANGLES))
    said = subprocess.run([tmp_path / "program"], input=given, capture_output=True, text=True, check=True).stdout.splitlines()
    for angle, line in zip(ANGLES, said, strict=False):
        sine, cosine, back, wrapped = map(float, line.split())
        assert (sine, cosine) == pytest.approx((math.sin(angle), math.cos(angle)), abs=1e-8)
        assert back == pytest.approx(math.atan2(sine, cosine), abs=1e-8) or abs(abs(back) - math.pi) < 1e-8
        assert abs(wrapped) <= math.pi
    assert len(said) == len(ANGLES) + 1
    assert list(map(float, said[-1].split())) == pytest.approx([0.0, math.pi / 2.0, math.pi])
