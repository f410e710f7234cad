"""What is left to correct by hand in the mappings that `log begin` drafts for twelve files, each of another logger.

    python -m tests.benchmarks.log_begin

Craft, waves and names of set-ups stand in no log, and the builder fills them in beside.
"""

from __future__ import annotations

from tests.logs.loggers.corrected import corrected, drafted
from tests.logs.loggers.twelve import LOGGERS

MOST = 2
"""Keys to correct that are allowed a file."""


def main() -> None:
    """Draft, compare and print."""
    good = 0
    for name, make in LOGGERS.items():
        written = make()
        found = corrected(written, drafted(written))
        good += len(found.wrong) <= MOST
        print(
            f"{name:17} {written.name:15} {len(found.wrong)} to correct, {found.questions} questions"
            + (f": {', '.join(found.wrong)}" if found.wrong else "")
            + (f"; not asked about: {', '.join(found.silent)}" if found.silent else ""),
            flush=True,
        )
    print(f"{good} of {len(LOGGERS)} files with at most {MOST} keys to correct")


if __name__ == "__main__":
    main()
