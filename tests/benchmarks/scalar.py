"""The kernel's scalar double-precision path, for `ratios`: one lane, the sea in double precision, in a process of its own.

Lanes are a constant of the compiled code, so this process changes it before anything is imported that was compiled with it, and
keeps its machine code apart. It flies once for every line that it reads and answers with simulated seconds a processor second.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path


def main() -> None:
    """Fly the designs that are named as arguments, one after another."""
    os.environ["NUMBA_CACHE_DIR"] = str(Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "foilsweep-one-lane")

    from sweep.model import compiled

    compiled.LANES = 1
    from sweep.model.flight import fly
    from tests.benchmarks.kernel import chop, fleet_of

    designs = [int(each) for each in sys.argv[1:]]
    fleet, block = fleet_of(designs, strips=2), chop(32)
    fly(fleet, block._replace(length=0.1), True)
    print("ready", flush=True)
    for _ in sys.stdin:
        begun = time.process_time()
        fly(fleet, block, True)
        print(len(designs) * block.length / (time.process_time() - begun), flush=True)


if __name__ == "__main__":
    main()
