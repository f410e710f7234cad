"""The exported code on small boards, under emulation: flash, memory and time of a tick; and every vector of its tests.

    python -m tests.benchmarks.boards [costs | vectors [FLIGHT]]

Needs avr-gcc, avr-libc and simavr, and arm-none-eabi-gcc with newlib and qemu-system-arm. Cycles on the AVR,
instructions on the Cortex-M4: its emulation has no cycles.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

from sweep.campaign.craft import Craft
from sweep.export.files import check_files, law_files
from sweep.export.flown import FlownTick
from sweep.export.settings import Law
from sweep.export.vectors import servo_step
from tests.export.compiled import flown
from tests.export.test_law import LAWS, SEA, SPECIAL, case_of, shipped
from tests.model.crafts import CASCADED, block_of, changed, courier, with_each

SOURCES = Path(__file__).parent / "board_code"
TOOLS = ("avr-gcc", "avr-size", "simavr", "arm-none-eabi-gcc", "qemu-system-arm")
CLOCK = 16e6  # Hz, of an atmega328p
AVR = ("avr-gcc", "-mmcu=atmega328p", "-Os", "-ffp-contract=off", "-ffunction-sections", "-Wl,--gc-sections")
M4 = ("arm-none-eabi-gcc", "-mcpu=cortex-m4", "-mthumb", "-mfloat-abi=hard", "-mfpu=fpv4-sp-d16", "-O2", "-ffp-contract=off")
MACHINE = ("qemu-system-arm", "-M", "mps2-an386", "-nographic", "-semihosting", "-icount", "shift=0", "-kernel")
TICKS = (200, 150, 100, 50)
"""As many as fit beside the law and the printing."""
FOUR = {"bow": {}, "port": {"y": -0.15}, "starboard": {"y": 0.15}, "aft": {"x": -0.3, "trust": 0.5}}


def cases() -> dict[str, Craft]:
    """A usual law, one without the loops, and the largest, at three rates."""
    largest = changed(
        with_each(FOUR),
        CASCADED
        | {
            "control.combine": "vote", "control.median": 5, "control.gate": 0.03,
            "control.preview": 0.5, "control.scheduled_at": 4.0, "control.bank_share": 1.0,
        },
    )  # fmt: skip
    usual = {
        f"levels, one rangefinder, {rate:g} Hz": changed(courier(), {"control.rate": rate}) for rate in (50.0, 100.0, 200.0)
    }
    cascaded = {"cascaded, one rangefinder, 100 Hz": changed(courier(), CASCADED)}
    most = {
        f"largest, four rangefinders, {rate:g} Hz": changed(largest, {"control.rate": rate}) for rate in (50.0, 100.0, 200.0)
    }
    return {**usual, **cascaded, "each foil, three rangefinders, 50 Hz": shipped("classroom-pond"), **most}


def run(command: Sequence[str | Path], folder: Path) -> str:
    """What a command prints; raises CalledProcessError with it."""
    found = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True, timeout=120)
    return found.stdout + found.stderr


def written(law: Law, ticks: Sequence[FlownTick], folder: Path, speed: float | None = None) -> None:
    """The law, its vectors and the programs for both boards, in a folder; speed: wanted, m/s, else the first of its trims."""
    files = law_files(law) | check_files(law, ticks, speed or law.trims[0].speed, "A flight.")
    for name, text in files.items():
        (folder / name).write_text(text)
    for source in SOURCES.iterdir():
        shutil.copy(source, folder)


def size(folder: Path, *options: str) -> tuple[int, int]:
    """Flash and static memory (bytes) of the law called once, or of nothing."""
    run([*AVR, "-std=c99", *options, "empty.c", "control.c", "settings.c", "-lm", "-o", "empty.elf"], folder)
    text, data, bss = map(int, run(["avr-size", "empty.elf"], folder).splitlines()[1].split()[:3])
    return text + data, data + bss


def told(text: str) -> dict[str, int]:
    """The numbers of the line that a board printed."""
    (line,) = re.findall(r"ticks \d+ .*wrong -?\d+", text)
    words = line.split()
    return {name: int(value) for name, value in zip(words[::2], words[1::2], strict=True)}


def on_avr(
    law: Law, ticks: Sequence[FlownTick], folder: Path, options: Sequence[str], speed: float | None = None
) -> Mapping[str, int]:
    """What the AVR printed, with as many ticks as its flash holds."""
    for count in TICKS:
        written(law, ticks[:count], folder, speed)
        try:
            run([*AVR, "-std=gnu99", *options, "avr.c", "control.c", "settings.c", "-lm", "-o", "avr.elf"], folder)
        except subprocess.CalledProcessError as error:
            if "overflowed" not in error.stderr:
                raise
            continue
        return told(run(["simavr", "-m", "atmega328p", "-f", f"{CLOCK:.0f}", "avr.elf"], folder))
    raise SystemExit(f"not even {TICKS[-1]} ticks fit")


def on_m4(
    law: Law, ticks: Sequence[FlownTick], folder: Path, options: Sequence[str], speed: float | None = None
) -> Mapping[str, int]:
    """What the Cortex-M4 printed."""
    written(law, ticks[: TICKS[0]], folder, speed)
    more = ["m4.c", "control.c", "settings.c", "-lm", "--specs=rdimon.specs", "-T", "m4.ld", "-o", "m4.elf"]
    run([*M4, "-std=gnu99", *options, *more], folder)
    return told(run([*MACHINE, "m4.elf"], folder))


def on_both(law: Law, ticks: Sequence[FlownTick], folder: Path, speed: float) -> tuple[Mapping[str, int], Mapping[str, int]]:
    """What the AVR and the Cortex-M4 printed; speed: wanted, m/s."""
    options = [*(["-DHAS_RUDDER"] if law.uses.rudder else []), *(["-DTWO_PROPELLERS"] if law.uses.differential else [])]
    return on_avr(law, ticks, folder, options, speed), on_m4(law, ticks, folder, options, speed)


def row(craft: Craft, folder: Path) -> list[str]:
    """Cells of the table."""
    speed = 3.0 if not craft.control.traits.levels else 4.0
    law, ticks = flown(craft, block_of(SEA, 1.0 + 201.0 / craft.control.rate, 1.0), speed, 1.0)
    avr, m4 = on_both(law, ticks, folder, speed)
    (flash, ram), (no_flash, no_ram) = size(folder, "-DCALLS"), size(folder)
    assert avr["wrong"] == m4["wrong"] == 0
    assert max(avr["off_nano"], m4["off_nano"]) < 1e9 * servo_step(craft)
    mean, most = (1e3 * avr[name] / CLOCK for name in ("mean", "most"))
    share = 100.0 * most * 1e-3 * craft.control.rate
    memory = [f"{flash - no_flash}", f"{ram - no_ram}", f"{avr['stack']}"]
    return [*memory, f"{mean:.2f}", f"{most:.2f}", f"{share:.0f} %", f"{m4['mean']}", f"{avr['off_nano']}, {m4['off_nano']}"]


def costs() -> None:
    """Print what each law costs."""
    heads = [
        "law", "flash, B", "static memory, B", "stack with the replay, B", "AVR: ms a tick, mean", "most", "of the period",
        "M4: instructions a tick", "largest difference, AVR and M4, nano (rad or throttle)",
    ]  # fmt: skip
    print("| " + " | ".join(heads) + " |\n|" + "---|" * len(heads))
    for name, craft in cases().items():
        with tempfile.TemporaryDirectory() as folder:
            print("| " + " | ".join([name, *row(craft, Path(folder))]) + " |", flush=True)


def vectors(only: str = "") -> None:
    """Print how far both boards' commands are from the kernel's, a row a flight; an AVR takes what its flash holds."""
    print(
        "| flight | ticks: AVR, M4 | AVR, nano (rad or throttle) | M4 | step of the servos | in another state |\n|" + "---|" * 6
    )
    for name in [only] if only else [*LAWS, *SPECIAL]:
        case = case_of(name)
        law, ticks = flown(case.craft, case.block, case.speed, case.begin)
        with tempfile.TemporaryDirectory() as folder:
            avr, m4 = on_both(law, ticks, Path(folder), case.speed)
        step = 1e9 * servo_step(case.craft)
        cells = [f"{avr['ticks']}, {m4['ticks']}", avr["off_nano"], m4["off_nano"], f"{step:.0f}", avr["wrong"] + m4["wrong"]]
        print("| " + " | ".join([name, *map(str, cells)]) + " |", flush=True)
        assert max(avr["off_nano"], m4["off_nano"]) < step
        assert avr["wrong"] == m4["wrong"] == 0


def main(what: str = "costs", *only: str) -> None:
    """Print a table."""
    if missing := [tool for tool in TOOLS if shutil.which(tool) is None]:
        raise SystemExit(f"not found: {', '.join(missing)}")
    {"costs": costs, "vectors": vectors}[what](*only)


if __name__ == "__main__":
    main(*sys.argv[1:])
