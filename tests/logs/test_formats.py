"""The same readings in every format and dialect are the same readings."""

from __future__ import annotations

import gzip
import json
import zipfile
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow
import pyarrow.feather
import pyarrow.parquet
import pytest

from sweep.campaign.text.problems import CampaignError
from sweep.logs.read.clock import past_midnight, seconds
from sweep.logs.read.mapping import load_mapping
from sweep.logs.read.others import with_others
from sweep.logs.read.runs import cut_runs
from sweep.logs.read.table import Chunk, LogTally, read_chunks
from tests.logs.test_read import joined
from tests.model.crafts import COURIER_FILE

ROWS = 500
TIME = 0.02 * np.arange(ROWS)
RANGE = 9.5 + 0.1 * (np.arange(ROWS) % 7)
PITCH = 0.25 * (np.arange(ROWS) % 5)
PLAIN = pd.DataFrame({"t": TIME.round(2), "r": RANGE.round(1), "p": PITCH})
MAPPING = """\
title: Formats
craft: craft.yaml
waves: {heading: head}
speed: 4 m/s
clock: {column: t, unit: s}
columns:
  range: {column: r, unit: cm}
  pitch: {column: p, unit: deg}
"""


def read(folder: Path, name: str, content: bytes, text: str = MAPPING) -> tuple[Chunk, LogTally]:
    (folder / "craft.yaml").write_text(COURIER_FILE.read_text(encoding="utf-8"), encoding="utf-8")
    (folder / name).write_bytes(content)
    (folder / "day.yaml").write_text(text + f"logs: {{file: {name}}}\n", encoding="utf-8")
    mapping, tally = load_mapping(folder / "day.yaml"), LogTally()
    (chunk,) = joined(list(read_chunks(mapping.files[0], mapping, tally)))
    return chunk, tally


def same(chunk: Chunk) -> None:
    np.testing.assert_allclose(chunk.time, TIME, atol=1e-6)
    np.testing.assert_allclose(chunk.values["range"], RANGE / 100.0, atol=1e-7)
    np.testing.assert_allclose(np.degrees(chunk.values["pitch"]), PITCH, atol=1e-6)


CSV = PLAIN.to_csv(index=False)
COMMA = PLAIN.to_csv(index=False, sep=";", decimal=",")
LATIN = PLAIN.assign(größe=1).to_csv(index=False)
BY_NUMBER = MAPPING.replace("column: t", "column: 1").replace("column: r", "column: 2").replace("column: p", "column: 3")
WRITTEN = {
    "comma": (CSV.encode(), ""),
    "utf-8 with a mark": (b"\xef\xbb\xbf" + CSV.encode(), ""),
    "utf-16 with a mark": (CSV.encode("utf-16"), ""),
    "utf-16 without": (CSV.encode("utf-16-le"), "encoding: utf-16\n"),
    "latin-1": (LATIN.encode("latin-1"), "encoding: latin-1\n"),
    "decimal comma": (COMMA.encode(), "delimiter: semicolon\ndecimal: comma\n"),
    "tabs": (CSV.replace(",", "\t").encode(), "delimiter: tab\n"),
    "bars": (CSV.replace(",", " | ").encode(), "delimiter: bar\n"),
    "spaces": (CSV.replace(",", "   ").encode(), "delimiter: space\n"),
    "quotes": (CSV.replace("t,r,p", '"t","r","p"').encode(), ""),
    "a row of units": (CSV.replace("t,r,p\n", "t,r,p\ns,cm,deg\n").encode(), "under: 1\n"),
    "lines before": (("Logger 7\nserial;3\n" + CSV).encode(), "skip: 2\n"),
    "comments": (CSV.replace("\n0.2,", "\n# paused, twice, here, 4\n0.2,").encode(), 'comments: "#"\n'),
}  # fmt: skip


@pytest.mark.parametrize("kind", WRITTEN)
def test_a_csv_of_any_dialect(kind: str, tmp_path: Path) -> None:
    content, keys = WRITTEN[kind]
    chunk, tally = read(tmp_path, "log.csv", content, MAPPING + keys)
    same(chunk)
    assert tally.torn == 0


def test_columns_by_number_where_there_are_no_headings(tmp_path: Path) -> None:
    same(read(tmp_path, "log.csv", CSV.split("\n", 1)[1].encode(), BY_NUMBER + "headings: false\n")[0])


def test_a_word_among_decimal_commas_spoils_no_other(tmp_path: Path) -> None:
    chunk, tally = read(
        tmp_path, "log.csv", (COMMA + "err;9,5;1\n10,0;err;1\n").encode(), MAPPING + WRITTEN["decimal comma"][1]
    )
    assert np.nansum(chunk.values["range"][:ROWS]) == pytest.approx(RANGE.sum() / 100.0)
    assert (tally.clockless, tally.channels["range"].words) == (1, 1)


def test_packed_files(tmp_path: Path) -> None:
    same(read(tmp_path, "log.csv.gz", gzip.compress(CSV.encode()))[0])
    with zipfile.ZipFile(tmp_path / "made", "w") as archive:
        archive.writestr("inner.csv", CSV)
    same(read(tmp_path, "log.zip", (tmp_path / "made").read_bytes())[0])
    with pytest.raises(CampaignError, match="a packed file that is broken"):
        read(tmp_path, "log.csv.gz", gzip.compress(CSV.encode())[:-20])
    with zipfile.ZipFile(tmp_path / "made", "a") as archive:
        archive.writestr("second.csv", CSV)
    with pytest.raises(CampaignError, match="2 files in it"):
        read(tmp_path, "log.zip", (tmp_path / "made").read_bytes())


def test_json_lines_with_inner_objects(tmp_path: Path) -> None:
    lines = [json.dumps({"t": t, "water": {"r": [r]}, "p": p}) for t, r, p in PLAIN.itertuples(index=False)]
    text = MAPPING.replace("column: r", "column: water.r.0")
    chunk, tally = read(tmp_path, "log.jsonl", "\n".join([*lines[:250], '{"t": 5', *lines[250:]]).encode(), text)
    same(chunk)
    assert tally.torn == 1
    with pytest.raises(CampaignError, match="no column 'r', for range"):
        read(tmp_path, "log.jsonl", "\n".join(lines).encode())


def test_parquet_and_arrow(tmp_path: Path) -> None:
    table = pyarrow.Table.from_pandas(PLAIN)
    pyarrow.parquet.write_table(table, tmp_path / "p")
    same(read(tmp_path, "log.parquet", (tmp_path / "p").read_bytes())[0])
    pyarrow.feather.write_feather(table, tmp_path / "a")
    same(read(tmp_path, "log.arrow", (tmp_path / "a").read_bytes())[0])
    with pyarrow.ipc.new_stream(tmp_path / "s", table.schema) as writer:
        writer.write_table(table)
    same(read(tmp_path, "log.arrow", (tmp_path / "s").read_bytes())[0])
    with pytest.raises(CampaignError, match="what is no parquet file"):
        read(tmp_path, "log.parquet", CSV.encode())


def test_newest_first_in_any_format(tmp_path: Path) -> None:
    turned = PLAIN[::-1]
    lines = "\n".join(json.dumps(dict(zip("trp", row, strict=True))) for row in turned.itertuples(index=False))
    table = pyarrow.Table.from_pandas(turned, preserve_index=False)
    pyarrow.parquet.write_table(table, tmp_path / "p", row_group_size=130)
    pyarrow.feather.write_feather(table, tmp_path / "a", chunksize=130)
    with pyarrow.ipc.new_stream(tmp_path / "s", table.schema) as writer:
        writer.write_table(table, max_chunksize=130)
    files = {"log.jsonl": lines.encode()}
    files |= {f"log{n}.{end}": (tmp_path / n).read_bytes() for n, end in (("p", "parquet"), ("a", "arrow"), ("s", "arrow"))}
    for name, content in files.items():
        chunk, tally = read(tmp_path, name, content)
        same(chunk)
        assert tally.backwards == 0


def test_a_row_that_comes_after_its_follower_is_put_before_it(tmp_path: Path) -> None:
    """It ends no run; a clock that was set back does."""
    order = np.arange(ROWS)
    late = np.array([7, 100, 101 + 50, ROWS - 2])
    order[late], order[late + 1] = order[late + 1], order[late]
    chunk, tally = read(tmp_path, "log.csv", PLAIN.iloc[order].to_csv(index=False).encode())
    same(chunk)
    assert (tally.swapped, tally.backwards) == (4, 0)
    text = PLAIN.assign(t=np.where(TIME < 5.0, TIME, TIME - 0.5).round(2)).to_csv(index=False)
    _, tally = read_many(tmp_path, text, MAPPING)
    assert (tally.swapped, tally.backwards) == (0, 1)


def test_rows_of_one_sensor_each_at_one_time_are_one_row(tmp_path: Path) -> None:
    """Neither readings nor times are lost or moved, and a row that came twice counts once."""
    lines = []
    for t, r, p in PLAIN.itertuples(index=False):
        lines += [f"{t},{r},", f"{t},,{p}"]
    chunk, tally = read(tmp_path, "log.csv", ("t,r,p\n" + "\n".join(lines)).encode())
    same(chunk)
    assert (tally.shared, tally.rows) == (0, 2 * ROWS)


@pytest.mark.parametrize(("order", "sign"), [("little", "<"), ("big", ">")])
def test_packed_records_scaled(order: str, sign: str, tmp_path: Path) -> None:
    records = np.zeros(ROWS, dtype=[("t", sign + "u4"), ("mode", "u1"), ("r", sign + "u2"), ("p", sign + "i2")])
    records["t"], records["r"], records["p"] = np.rint(1e6 * TIME), np.rint(RANGE * 10), np.rint(100 * PITCH + 9000)
    text = MAPPING.replace("column: t, unit: s", "column: t, unit: us").replace("unit: cm", "unit: mm")
    text = text.replace("unit: deg", "unit: deg, zero: 9000, scale: 0.01")
    keys = f"layout: {{order: {order}, header: 6, fields: [t u4, mode u1, r u2, p i2]}}\n"
    chunk, tally = read(tmp_path, "log.bin", b"HEADER" + records.tobytes() + b"x", text + keys)
    same(chunk)
    assert tally.torn == 1
    with pytest.raises(CampaignError, match="layout"):
        read(tmp_path, "log.bin", records.tobytes(), text)


CLOCKS = {
    "iso": ([f"2026-06-01T12:00:{t:05.2f}Z" for t in TIME], "written: iso"),
    "day first": ([f"01.06.2026 12:00:{t:05.2f}" for t in TIME], "written: iso, dates: day-first"),
    "time of day": ([f"12:00:{t:05.2f}" for t in TIME], "written: time-of-day"),
    "run together": ([f"1200{t:05.2f}" for t in TIME], "written: time-of-day"),
    "over midnight": ([
        f"{'23:59:5' if t < 5 else '00:00:0'}{(t + 5 if t < 5 else t - 5):04.2f}" for t in TIME], "written: time-of-day"),
    "since 1970, s": ([f"{1780315200 + t:.3f}" for t in TIME], "unit: s"),
    "since 1970, ms": ([f"{1780315200000 + 1000 * t:.0f}" for t in TIME], "unit: ms"),
    "since 1970, us": ([f"{1780315200000000 + 1e6 * t:.0f}" for t in TIME], "unit: us"),
    "ns": ([f"{1e9 * t:.0f}" for t in TIME], "unit: ns"),
}  # fmt: skip


@pytest.mark.parametrize("kind", CLOCKS)
def test_clocks(kind: str, tmp_path: Path) -> None:
    texts, keys = CLOCKS[kind]
    rows = "t,r,p\n" + "".join(f"{t},{r:.1f},{p}\n" for t, r, p in zip(texts, RANGE, PITCH, strict=True))
    same(read(tmp_path, "log.csv", rows.encode(), MAPPING.replace("unit: s}", keys + "}"))[0])


def test_date_and_time_in_two_columns(tmp_path: Path) -> None:
    rows = "d,t,r,p\n" + "".join(
        f"06/01/2026,12:00:{t:05.2f},{r:.1f},{p}\n" for t, r, p in zip(TIME, RANGE, PITCH, strict=True)
    )
    text = MAPPING.replace("unit: s}", "written: iso, date: d, dates: month-first}")
    same(read(tmp_path, "log.csv", rows.encode(), text)[0])


def test_a_date_is_what_the_library_of_time_has() -> None:
    from datetime import UTC, datetime

    said = seconds(pd.Series(["2026-06-01T12:34:56.5Z"]), "iso")
    assert said[0] == datetime(2026, 6, 1, 12, 34, 56, 500000, UTC).timestamp()
    np.testing.assert_array_equal(
        past_midnight(np.array([86399.0, 1.0, np.nan, 2.0]), np.nan), [86399.0, 86401.0, np.nan, 86402.0]
    )


def test_rows_by_mode_and_setups_by_column(tmp_path: Path) -> None:
    count = 4000
    rows = "t,r,p,mode,gain\n" + "".join(
        f"{0.02 * i:.2f},{9.5 + 0.1 * (i % 7):.1f},{i % 5},{'AUTO' if i < 3000 else 'MANUAL'},{0.4 if i < 1500 else 0.8}\n"
        for i in range(count)
    )
    text = MAPPING + "rows: {column: mode, are: [AUTO, 4]}\nsetups: gain\n"
    _, tally = read_many(tmp_path, rows, text)
    assert tally.left_out == 1000
    mapping = load_mapping(tmp_path / "day.yaml")
    runs = list(cut_runs(read_chunks(mapping.files[0], mapping, LogTally()), mapping, 0))
    assert [run.setup for run in runs] == ["0.4", "0.8"]
    assert runs[-1].begin + runs[-1].length < 60.1


def read_many(folder: Path, rows: str, text: str) -> tuple[list[Chunk], LogTally]:
    (folder / "craft.yaml").write_text(COURIER_FILE.read_text(encoding="utf-8"), encoding="utf-8")
    (folder / "log.csv").write_text(rows, encoding="utf-8")
    (folder / "day.yaml").write_text(text + "logs: {file: log.csv}\n", encoding="utf-8")
    mapping, tally = load_mapping(folder / "day.yaml"), LogTally()
    return list(read_chunks(mapping.files[0], mapping, tally)), tally


def test_a_path_with_a_star_stands_for_all_files(tmp_path: Path) -> None:
    for name in ("a-2.csv", "a-1.csv", "b.csv"):
        (tmp_path / name).write_text(CSV, encoding="utf-8")
    read_many(tmp_path, CSV, MAPPING)
    (tmp_path / "day.yaml").write_text(MAPPING + "logs: [{file: a-*.csv, setup: one}, {file: b.csv}]\n", encoding="utf-8")
    mapping = load_mapping(tmp_path / "day.yaml")
    assert [(path.name, log.setup) for path, log in zip(mapping.files, mapping.logs, strict=True)] == [
        ("a-1.csv", "one"), ("a-2.csv", "one"), ("b.csv", "as it is")]  # fmt: skip
    (tmp_path / "day.yaml").write_text(MAPPING + "logs: {file: c-*.csv}\n", encoding="utf-8")
    with pytest.raises(CampaignError, match="where there is no file"):
        load_mapping(tmp_path / "day.yaml")


def test_a_file_with_its_own_clock_and_rate(tmp_path: Path) -> None:
    """Its readings stand where its clock, less `off`, has them; none is made up in between."""
    fixes = "ms;kn\n" + "".join(f"{1000 * (0.2 * i + 0.05) + 3000:.0f};{2 + i}\n" for i in range(50))
    (tmp_path / "gps.csv").write_text(fixes, encoding="utf-8")
    also = "also: {file: gps.csv, delimiter: semicolon, clock: {column: ms, unit: ms, off: 3 s}, "
    also += "columns: {speed: {column: kn, unit: kn}}}"
    text = MAPPING.replace("speed: 4 m/s\n", "")
    (tmp_path / "log.csv").write_text(CSV, encoding="utf-8")
    (tmp_path / "craft.yaml").write_text(COURIER_FILE.read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "day.yaml").write_text(text + f"logs: {{file: log.csv, {also}}}\n", encoding="utf-8")
    mapping, tally = load_mapping(tmp_path / "day.yaml"), LogTally()
    assert mapping.channels == ("range", "pitch", "speed")
    (chunk,) = joined(list(with_others(read_chunks(mapping.files[0], mapping, tally), mapping.others[0], tally)))
    speed = chunk.values["speed"]
    some = np.isfinite(speed)
    np.testing.assert_allclose(chunk.time[some], 0.2 * np.arange(50) + 0.05, atol=1e-6)
    np.testing.assert_allclose(speed[some], (2 + np.arange(50)) * 1852 / 3600)
    np.testing.assert_allclose(chunk.values["range"][np.isfinite(chunk.values["range"])], RANGE / 100.0)
    assert tally.channels["speed"].came == 50
