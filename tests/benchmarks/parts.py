"""Where the time of a step goes: nanoseconds a step and lane, by kernel, for the demo's craft in its chop.

    python -m tests.benchmarks.parts [FLIGHTS]

Linux's `perf` samples a process that flies 32 designs side by side, 40 times by default; each sample is that of the kernel in
whose machine code it fell. A small kernel counts for the one into which it was compiled. Without `perf`, it says so and ends.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import tempfile
import time
from bisect import bisect_right
from collections import Counter
from pathlib import Path

FLIGHTS = 40
RATE = 4000
"""Samples a second."""
LEAST = 0.5
"""Per cent of the time: kernels with less are told together (judgement)."""


def fly_sampled(folder: Path, flights: int) -> None:
    """Fly in this process, and write where each kernel's machine code lies, and the nanoseconds a step and lane."""
    from sweep.model.compiled import LANES  # first: it sets what numba reads when it is imported
    from sweep.model.flight import fly, fly_lanes

    from numba.core.codegen import JITCodeLibrary  # isort: skip

    from tests.benchmarks.kernel import chop, demo_fleet

    objects: dict[str, bytes] = {}
    take = JITCodeLibrary._set_compiled_object

    def note(library: JITCodeLibrary, value: bytes) -> None:
        objects[library.name] = value
        take(library, value)

    JITCodeLibrary._set_compiled_object = note
    fleet, block = demo_fleet(strips=2), chop(32)
    fly(fleet, block)
    (compiled,) = fly_lanes.overloads.values()
    if compiled.library.name not in objects:
        raise SystemExit("The machine code was compiled just now: the same command again finds it stored.")
    code = folder / "kernels.o"
    code.write_bytes(objects[compiled.library.name])
    listed = subprocess.run(["nm", "-S", str(code)], capture_output=True, text=True, check=True).stdout.split("\n")
    sized = [words for line in listed if len(words := line.split()) == 4 and words[2] in "TWtw"]
    engine = compiled.library._codegen._engine._ee
    places = [(engine.get_function_address(name), int(size, 16), name) for _, size, _, name in sized]
    (folder / "places.json").write_text(json.dumps(sorted(place for place in places if place[0])))
    begun = time.process_time()
    for _ in range(flights):
        fly(fleet, block)
    steps = flights * round(block.length / fleet.structure.step) * LANES
    (folder / "each.txt").write_text(str(1e9 * (time.process_time() - begun) / steps))


def short(name: str) -> str:
    """'kernels.sea_single.move_water', from the name of a compiled function."""
    rest, words = name.partition("5sweep5model")[2], []
    while number := re.match(r"\d+", rest):
        end = number.end() + int(number[0])
        words.append(rest[number.end() : end])
        rest = rest[end:]
    return ".".join(words) or "other"


def sampled(folder: Path, flights: int) -> tuple[Counter[str], float]:
    """Samples by kernel, and the nanoseconds that a step of a lane takes."""
    data = folder / "perf.data"
    command = [sys.executable, "-m", "tests.benchmarks.parts", "--fly", str(folder), str(flights)]
    subprocess.run(["perf", "record", "-q", "-o", data, "-F", str(RATE), *command], check=True)
    script = subprocess.run(["perf", "script", "-i", data, "-F", "ip"], capture_output=True, text=True, check=True).stdout
    places = json.loads((folder / "places.json").read_text())
    starts, found = [place for place, _, _ in places], Counter[str]()
    for word in script.split():
        at = bisect_right(starts, address := int(word, 16)) - 1
        if at >= 0 and address < starts[at] + places[at][1]:
            found[short(places[at][2])] += 1
    return found, float((folder / "each.txt").read_text())


def main() -> None:
    """Sample and print."""
    if not shutil.which("perf") or not shutil.which("nm"):
        raise SystemExit("This needs Linux's perf, and nm of binutils.")
    flights = int(sys.argv[1]) if len(sys.argv) > 1 else FLIGHTS
    with tempfile.TemporaryDirectory() as folder:
        found, each = sampled(Path(folder), flights)
    total = sum(found.values())
    print(f"{each:.0f} ns a step and lane; {total} samples of kernels.\n\n| kernel | ns | share |\n|---|---|---|")
    for name, number in found.most_common():
        if 100.0 * number >= LEAST * total:
            print(f"| {name} | {each * number / total:.1f} | {number / total:.1%} |")
    few = sum(number for number in found.values() if 100.0 * number < LEAST * total)
    print(f"| all others | {each * few / total:.1f} | {few / total:.1%} |")


if __name__ == "__main__":
    fly_sampled(Path(sys.argv[2]), int(sys.argv[3])) if sys.argv[1:2] == ["--fly"] else main()
