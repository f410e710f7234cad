"""Code that is wrong: what it does, and the words by which it is told. Each is the same sound law with one thing wrong."""

from __future__ import annotations

from typing import NamedTuple

HEAD = '#include "control.h"\n'
START = "void control_start(struct control_memory *m)\n{\n    static const struct control_memory none;\n    *m = none;\n}\n"
TICK = (
    "void control_tick(const struct control_settings *s, struct control_memory *m, const struct control_readings *r,\n"
    "                  struct control_commands *c)\n"
)
BODY = """\
    int i;
    number missing = r->wanted_height - m->height[0];
    if (r->range_count)
        m->height[0] = r->ranges[0].distance * s->rangefinders[0].look[2] - s->rangefinders[0].height;
    for (i = 0; i < FOILS; i++) {
        number most = s->foils[i].travel;
        number angle = s->foils[i].height * (s->trims[0].height + s->own.kp * missing) + s->foils[i].pitch * s->trims[0].pitch;
        c->foil[i] = angle > most ? most : angle < -most ? -most : angle;
    }
    c->rudder = 0;
    c->throttle = r->armed && r->go ? s->trims[0].throttle : 0;
"""


def law(wrong: str = "", above: str = "", start: str = START, tick: str = TICK) -> str:
    """The sound law, with something wrong in its tick, or above it."""
    return f"{HEAD}{above}{start}{tick}{{\n{BODY}{wrong}}}\n"


class Bad(NamedTuple):
    """Code, and a word of what is said of it."""

    text: str
    said: str


REFUSED = {
    "does not compile": Bad(law("    c->foil[0] = oops;\n"), "my_control.c:21:18: error: 'oops' undeclared"),
    "no such function": Bad(HEAD + START, "has no function control_tick"),
    "shared global": Bad(law("    c->throttle += 0 * count++;\n", "static int count;\n"), "keeps count outside its memory"),
    "static inside": Bad(
        law("    { static number last; last += 1; c->throttle += 0 * last; }\n"), "keeps last outside its memory"
    ),
    "forbidden import": Bad(law("    c->throttle += 0 * rand();\n", "int rand(void);\n"), "calls rand"),
    "a file of the computer": Bad(law("", "#include <stdio.h>\n"), "my_control.c:2: #include <stdio.h>"),
    "assembler": Bad(law('    __asm__("nop");\n'), "assembler"),
    "code run at load": Bad(
        law("", "static volatile const int seen;\nstatic void __attribute__((constructor)) go(void) { (void)seen; }\n"),
        "runs code as it is loaded",
    ),
}
"""Told before anything is loaded."""

TRIED = {
    "beyond an array": Bad(law("    m->ranges[r->range_count + RANGEFINDERS].last = 1;\n"), "line 21: index 1 out of bounds"),
    "uninitialised memory": Bad(
        law(
            "    c->throttle *= m->roll > 0 ? 1 : (number)0.5;\n",
            start="void control_start(struct control_memory *m) { m->mode = 0; }\n",
        ),
        "reads what nobody set",
    ),
    "uninitialised variable": Bad(
        law("    { number a[4]; a[r->armed] = 0; if (a[3] > (number)1e-9 || a[3] < (number)-1e-9) c->throttle = 0; }\n"),
        "reads what nobody set",
    ),
    "a command that is not set": Bad(
        f"{HEAD}{START}{TICK}{{ (void)s; (void)m; (void)r; c->throttle = 0; c->rudder = 0; }}\n", "foil port was not a number"
    ),
    "hang": Bad(law("    while (r->elapsed < 1) { volatile int x = 1; (void)x; }\n"), "did not come back"),
    "recursion": Bad(
        law(
            "    c->throttle += 0 * deep(r->elapsed);\n",
            "static number deep(number x) { return x > 0 ? deep(x + 1) + 1 : x; }\n",
        ),
        "called itself without end",
    ),
    "hidden not-a-number": Bad(
        law("    { number q = r->elapsed * 0; q = q / q; c->throttle *= q > 0 ? (number)0.5 : 1; }\n"), "not a number"
    ),
    "out of range": Bad(law("    c->throttle = 1 + r->elapsed;\n"), "its throttle was 1.01, out of 0 ... 1"),
}
"""Told on made-up readings."""

LATER = "    m->climbs[0] += r->armed;\n    if (m->climbs[0] > 700 && s->own.kp > 1)\n"
"""After 7 s at 100 Hz, of which it is armed for a tick before the flight, beyond the trial; only the design with this gain."""
FLOWN = {
    "crash": Bad(law(f"{LATER}        *(volatile int *)0 = 1;\n"), "it read or wrote outside its memory"),
    "far write": Bad(law(f"{LATER}        ((volatile char *)m)[1 << 26] = 1;\n"), "it read or wrote outside its memory"),
    "stack": Bad(
        law(f"{LATER}        {{ volatile char x[4]; long n; for (n = 0; n < 1000000; n++) ((volatile char *)x)[n] = 1; }}\n"),
        "it read or wrote outside its memory",
    ),
    "hang": Bad(law(f"{LATER}        for (;;) m->climbs[1] += 1;\n"), "it did not come back"),
    "recursion": Bad(
        law(
            f"{LATER}        c->throttle += 0 * deep(r->elapsed);\n",
            "static number deep(number x) { return x > 0 ? deep(x + 1) + 1 : x; }\n",
        ),
        "called itself without end",
    ),
    "hidden not-a-number": Bad(
        law(f"{LATER}        {{ number q = r->elapsed * 0; q = q / q; c->throttle *= q > 0 ? (number)0.5 : 1; }}\n"),
        "somewhere inside it made a value that is not a number",
    ),
    "a command that is not a number": Bad(
        law(f"{LATER}        c->foil[1] = m->climbs[1] / (r->elapsed * 0);\n"), "its command to foil starboard was not a number"
    ),
    "out of range": Bad(
        law(f"{LATER}        c->foil[2] = 1;\n"), "its command to foil aft was 57.3 deg, out of its servo's travel"
    ),
    "whole numbers over 0": Bad(law(f"{LATER}        c->throttle += 0 * (number)(7 / (r->armed - 1));\n"), "by 0"),
}
"""Found only in a flight: one design of three."""
STATUS = {
    "crash": "code-crashed",
    "far write": "code-crashed",
    "stack": "code-crashed",
    "hang": "code-hung",
    "recursion": "code-endless",
    "hidden not-a-number": "code-not-a-number",
    "a command that is not a number": "code-not-a-number",
    "out of range": "code-out-of-range",
    "whole numbers over 0": "code-crashed",
}
