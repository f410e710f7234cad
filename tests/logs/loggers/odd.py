"""Five more files, as odd as loggers write them, of the second boat's flights; no rule of `log begin` was made for them.

By the same hands as the project. Each was written before it was first drafted.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from math import pi

import numpy as np
import pandas as pd

from tests.logs.loggers.twelve import DEG, G0, KN, Written, flight

OFF = 3.2
"""s, by which the clock of the speed's own file is ahead of the log's."""
SINCE = 1_780_308_000.0
"""s since 1970, when the rows begin."""


def commas_in_utf16() -> Written:
    """Semicolons, decimal commas, UTF-16 without a mark at its begin, day first; a quoted heading with a semicolon."""
    f = flight(50.0, 31)
    stamp = pd.Timestamp("2026-06-14 09:12:00") + pd.to_timedelta(f.t, unit="s")
    table = pd.DataFrame(
        {
            "Date; time": stamp.dt.strftime("%d.%m.%Y %H:%M:%S,%f").str[:-3],
            "Distance [cm]": 100.0 * f.range,
            "Trim [°]": np.degrees(f.pitch),
            "Heel [°]": np.degrees(f.roll),
            "Course [°]": np.degrees(f.heading),
            "Speed [kn]": f.speed / KN,
            "Acc. X [g]": f.ax / G0,
            "Acc. Z [g]": -f.az / G0,
        }
    )
    content = table.to_csv(index=False, sep=";", decimal=",", float_format="%.4f", lineterminator="\r\n").encode("utf-16-le")
    columns = {
        "range": ("Distance [cm]", 0.01, 0.0),
        "pitch": ("Trim [°]", DEG, 0.0),
        "roll": ("Heel [°]", DEG, 0.0),
        "heading": ("Course [°]", DEG, 0.0),
        "speed": ("Speed [kn]", KN, 0.0),
        "force_x": ("Acc. X [g]", G0, 0.0),
        "force_z": ("Acc. Z [g]", -G0, 0.0),
    }
    dialect: dict[str, object] = {"delimiter": "semicolon", "decimal": "comma", "encoding": "utf-16"}
    return Written("Export.csv", content, ("Date; time", 0.0), columns, dialect)


def sent_twice() -> Written:
    """Telemetry in epoch milliseconds: of twenty rows one comes twice, and one in thirty a little late, out of order."""
    f = flight(100.0, 32)
    draws = np.random.default_rng(32)
    table = pd.DataFrame(
        {
            "ts": np.rint(1000.0 * (SINCE + f.t)).astype("int64"),
            "sonar_m": f.range.round(3),
            "pitch": np.degrees(f.pitch).round(2),
            "roll": np.degrees(f.roll).round(2),
            "gyro_y": np.degrees(f.q).round(2),
            "acc_x": f.ax.round(3),
            "acc_z": f.az.round(3),
            "cog": np.degrees(f.heading).round(1),
            "sog": f.speed.round(2),
        }
    )
    place = np.repeat(np.arange(len(table)), 1 + (draws.random(len(table)) < 0.05))
    late = np.flatnonzero(draws.random(len(place) - 1) < 1.0 / 30.0)[::2]
    place[late], place[late + 1] = place[late + 1], place[late]
    columns = {
        "range": ("sonar_m", 1.0, 0.0),
        "pitch": ("pitch", DEG, 0.0),
        "roll": ("roll", DEG, 0.0),
        "pitch_rate": ("gyro_y", DEG, 0.0),
        "force_x": ("acc_x", 1.0, 0.0),
        "force_z": ("acc_z", 1.0, 0.0),
        "heading": ("cog", DEG, 0.0),
        "speed": ("sog", 1.0, 0.0),
    }
    return Written("telemetry.csv", table.iloc[place].to_csv(index=False).encode(), ("ts", 1e-3), columns, {})


def a_line_a_sensor() -> Written:
    """JSON lines in gzip: each sensor has lines of its own, with the same clock; accelerations stand in a list, z up in g0."""
    f = flight(100.0, 33)
    lines = []
    for n, r in enumerate(f.itertuples()):
        stamp = round(SINCE + r.t, 3)
        imu = {"acc": [round(r.ax / G0, 4), round(r.ay / G0, 4), round(-r.az / G0, 4)], "gyro": {"y_dps": round(r.q / DEG, 2)}}
        angles = {"pitch_deg": round(r.pitch / DEG, 2), "roll_deg": round(r.roll / DEG, 2)}
        lines.append({"time": stamp, "imu": imu | {"attitude": angles}})
        if not np.isnan(r.range):
            lines.append({"time": stamp, "rangefinder": {"distance": {"mm": round(1000.0 * r.range)}, "ok": True}})
        if n % 20 == 0:
            lines.append({"time": stamp, "gnss": {"speed_ms": round(r.speed, 2), "course_deg": round(r.heading / DEG, 1)}})
        if n % 500 == 499:
            lines.append({"time": stamp, "event": "heartbeat"})
    columns = {
        "range": ("rangefinder.distance.mm", 0.001, 0.0),
        "pitch": ("imu.attitude.pitch_deg", DEG, 0.0),
        "roll": ("imu.attitude.roll_deg", DEG, 0.0),
        "pitch_rate": ("imu.gyro.y_dps", DEG, 0.0),
        "heading": ("gnss.course_deg", DEG, 0.0),
        "speed": ("gnss.speed_ms", 1.0, 0.0),
        "force_x": ("imu.acc.0", G0, 0.0),
        "force_z": ("imu.acc.2", -G0, 0.0),
    }
    content = gzip.compress("\n".join(map(json.dumps, lines)).encode())
    return Written("boat-2026-06-01.ndjson.gz", content, ("time", 1.0), columns, {})


def newest_first_with_gaps() -> Written:
    """The newest row first, in ISO times with a zone, with three holes of 0.2 to 0.7 s, and a torn row where it was cut."""
    f = flight(50.0, 34)
    holes = ((7.0, 0.2), (15.0, 0.7), (29.0, 0.4))
    f = f[~np.any([(f.t >= begin) & (f.t < begin + length) for begin, length in holes], axis=0)]
    stamp = pd.Timestamp("2026-06-01T12:00:00+02:00") + pd.to_timedelta(f.t, unit="s")
    table = pd.DataFrame(
        {
            "when": [each.isoformat(timespec="milliseconds") for each in stamp],
            "pitch_mrad": (1000.0 * f.pitch).round(1),
            "roll_mrad": (1000.0 * f.roll).round(1),
            "heading_deg": np.degrees(f.heading).round(1),
            "speed_cm_s": (100.0 * f.speed).round(0),
            "height_in": (f.range / 0.0254).round(2),
            "accel_fwd_mg": (1000.0 * f.ax / G0).round(0),
            "accel_down_mg": (1000.0 * f.az / G0).round(0),
        }
    )
    content = table[::-1].to_csv(index=False).encode()[:-20]
    columns = {
        "range": ("height_in", 0.0254, 0.0),
        "pitch": ("pitch_mrad", 1e-3, 0.0),
        "roll": ("roll_mrad", 1e-3, 0.0),
        "heading": ("heading_deg", DEG, 0.0),
        "speed": ("speed_cm_s", 0.01, 0.0),
        "force_x": ("accel_fwd_mg", G0 / 1000.0, 0.0),
        "force_z": ("accel_down_mg", G0 / 1000.0, 0.0),
    }
    return Written("history.csv", content, ("when", 0.0), columns, {})


def without_its_speed() -> Written:
    """Microseconds since the board woke; the speed is in a file of its own, `speed_alone`."""
    f = flight(100.0, 35)
    table = pd.DataFrame(
        {
            "us": np.rint(1e6 * f.t + 7.7e6).astype(int),
            "dist_mm": (1000.0 * f.range).round(0),
            "pitch_rad": f.pitch.round(4),
            "ax_ms2": f.ax.round(3),
            "az_ms2": f.az.round(3),
            "yaw_rad": ((f.heading + pi) % (2.0 * pi) - pi).round(4),
        }
    )
    columns = {
        "range": ("dist_mm", 0.001, 0.0),
        "pitch": ("pitch_rad", 1.0, 0.0),
        "force_x": ("ax_ms2", 1.0, 0.0),
        "force_z": ("az_ms2", 1.0, 0.0),
        "heading": ("yaw_rad", 1.0, 0.0),
    }
    return Written("board.csv", table.to_csv(index=False).encode(), ("us", 1e-6), columns, {})


def speed_alone() -> Written:
    """What a receiver wrote beside `without_its_speed`: a row in two seconds, its clock OFF ahead of the board's."""
    f = flight(100.0, 35).iloc[::200]
    table = pd.DataFrame({"seconds": (f.t + 7.7 + OFF).round(1), "knots": (f.speed / KN).round(2), "sats": 11})
    return Written("receiver.csv", table.to_csv(index=False).encode(), ("seconds", 1.0), {"speed": ("knots", KN, 0.0)}, {})


ODD: dict[str, Callable[[], Written]] = {
    each.__name__: each for each in (commas_in_utf16, sent_twice, a_line_a_sensor, newest_first_with_gaps, without_its_speed)
}
