"""Twelve files as loggers write them, of the second boat's flights, each in another dialect, with the mapping that is right.

Written before the rules of `log begin`, and those were not changed for any one of them. By the same hands as the project.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from functools import cache
from io import BytesIO
from math import pi, radians
from typing import NamedTuple

import numpy as np
import pandas as pd

from tests.logs.foreign import Logger, Sea, log_of

DEG, G0, KN = pi / 180.0, 9.80665, 1852.0 / 3600.0


class Written(NamedTuple):
    """A file's name, its bytes, and what is right.

    clock: column and seconds a number (0: a date or a time of day); columns: channel -> (column, SI value a number, the number
    that stands for 0); dialect: keys of the mapping that are not at their default.
    """

    name: str
    content: bytes
    clock: tuple[str, float]
    columns: dict[str, tuple[str, float, float]]
    dialect: dict[str, object]


@cache
def flight(rate: float = 100.0, seed: int = 5) -> pd.DataFrame:
    """A pass into the waves with the rate of pitch beside it; in SI, except the time's own start."""
    rows = log_of(Sea(0.05, 1.1, seed), 4.0, radians(150.0), 40.0, Logger(rate=rate))
    draws = np.random.default_rng(seed)
    pitch = np.radians(rows["trim"].to_numpy())
    time = rows["t"].to_numpy()
    return pd.DataFrame(
        {
            "t": time,
            "range": rows["h"] / 100.0,
            "pitch": pitch,
            "roll": np.radians(rows["heel"]),
            "q": np.gradient(pitch, time) + 0.002 * draws.standard_normal(len(rows)),
            "ax": rows["ax"],
            "ay": 0.1 * draws.standard_normal(len(rows)),
            "az": rows["az"],
            "heading": np.radians(rows["course"] % 360.0),
            "speed": rows["v"],
            "volts": 15.8 - 0.002 * time + 0.01 * draws.standard_normal(len(rows)),
        }
    )


def _csv(table: pd.DataFrame, **how: object) -> bytes:
    return table.to_csv(index=False, **how).encode()  # type: ignore[call-overload]


def autopilot() -> Written:
    """Microseconds since it woke, radians, z down, SI."""
    f = flight()
    table = pd.DataFrame(
        {
            "TimeUS": np.rint(f.t * 1e6 + 4.2e7).astype(int),
            "Roll": f.roll.round(5),
            "Pitch": f.pitch.round(5),
            "Yaw": f.heading.round(4),
            "GyrY": f.q.round(5),
            "AccX": f.ax.round(4),
            "AccY": f.ay.round(4),
            "AccZ": f.az.round(4),
            "RngDist": f.range.round(3),
            "Spd": f.speed.round(3),
            "Volt": f.volts.round(2),
        }
    )
    columns = {
        "range": ("RngDist", 1, 0),
        "pitch": ("Pitch", 1, 0),
        "roll": ("Roll", 1, 0),
        "heading": ("Yaw", 1, 0),
        "pitch_rate": ("GyrY", 1, 0),
        "force_x": ("AccX", 1, 0),
        "force_z": ("AccZ", 1, 0),
        "speed": ("Spd", 1, 0),
    }
    return Written("flight.csv", _csv(table), ("TimeUS", 1e-6), columns, {})


def european() -> Written:
    """Semicolons and decimal commas, a title line and a row of units, Latin-1, knots and degrees, z up in g."""
    f = flight(50.0, 6)
    table = pd.DataFrame(
        {
            "Zeit": f.t.round(3),
            "Abstand": (f.range * 100).round(1),
            "Trimm": np.degrees(f.pitch).round(2),
            "Krängung": np.degrees(f.roll).round(2),
            "Kurs": np.degrees(f.heading).round(1),
            "Fahrt": (f.speed / KN).round(2),
            "bx": (f.ax / G0).round(4),
            "bz": (-f.az / G0).round(4),
        }
    )
    text = table.to_csv(index=False, sep=";", decimal=",")
    head, rest = text.split("\n", 1)
    content = "\n".join(["Messung Nr. 12 vom 1.6.", head, "s;cm;°;°;°;kn;g;g", rest]).encode("latin-1")
    columns = {
        "range": ("Abstand", 0.01, 0),
        "pitch": ("Trimm", DEG, 0),
        "roll": ("Krängung", DEG, 0),
        "heading": ("Kurs", DEG, 0),
        "speed": ("Fahrt", KN, 0),
        "force_x": ("bx", G0, 0),
        "force_z": ("bz", -G0, 0),
    }
    dialect = {"delimiter": "semicolon", "decimal": "comma", "skip": 1, "under": 1, "encoding": "latin-1"}
    return Written("messung12.csv", content, ("Zeit", 1.0), columns, dialect)


def phone() -> Written:
    """ISO times, quoted headings with units, z up in m/s^2, pitch bow down (x forward, y left, z up)."""
    f = flight(100.0, 7)
    stamp = pd.Timestamp("2026-06-01T10:00:00Z") + pd.to_timedelta(f.t, unit="s")
    table = pd.DataFrame(
        {
            "timestamp": stamp.dt.strftime("%Y-%m-%dT%H:%M:%S.%fZ"),
            "accelerometer x (m/s2)": f.ax.round(4),
            "accelerometer y (m/s2)": f.ay.round(4),
            "accelerometer z (m/s2)": (-f.az).round(4),
            "gyro y (rad/s)": (-f.q).round(5),
            "pitch (rad)": (-f.pitch).round(5),
            "roll (rad)": f.roll.round(5),
            "heading (deg)": np.degrees(f.heading).round(1),
            "speed (m/s)": f.speed.round(2),
            "ultrasonic (cm)": (f.range * 100).round(1),
        }
    )
    columns = {
        "range": ("ultrasonic (cm)", 0.01, 0),
        "pitch": ("pitch (rad)", -1, 0),
        "roll": ("roll (rad)", 1, 0),
        "heading": ("heading (deg)", DEG, 0),
        "pitch_rate": ("gyro y (rad/s)", -1, 0),
        "force_x": ("accelerometer x (m/s2)", 1, 0),
        "force_z": ("accelerometer z (m/s2)", -1, 0),
        "speed": ("speed (m/s)", 1, 0),
    }
    return Written("phone.csv", table.to_csv(index=False, quoting=1).encode(), ("timestamp", 0.0), columns, {})


def counts() -> Written:
    """Raw counts of an inertial unit at 4096 a g0, hundredths of a degree, millis, mm with 65535 for nothing."""
    f = flight(100.0, 8)
    table = pd.DataFrame(
        {
            "millis": np.rint(1000 * f.t + 91834).astype(int),
            "acc_x": np.rint(f.ax / G0 * 4096).astype(int),
            "acc_y": np.rint(f.ay / G0 * 4096).astype(int),
            "acc_z": np.rint(f.az / G0 * 4096).astype(int),
            "pitch_cd": np.rint(np.degrees(f.pitch) * 100).astype(int),
            "roll_cd": np.rint(np.degrees(f.roll) * 100).astype(int),
            "hdg_cd": np.rint(np.degrees(f.heading) * 100).astype(int),
            "tof_mm": np.rint(f.range * 1000).fillna(65535).astype(int),
            "gps_cm_s": np.rint(f.speed * 100).astype(int),
        }
    )
    columns = {
        "range": ("tof_mm", 0.001, 0),
        "pitch": ("pitch_cd", DEG / 100, 0),
        "roll": ("roll_cd", DEG / 100, 0),
        "heading": ("hdg_cd", DEG / 100, 0),
        "speed": ("gps_cm_s", 0.01, 0),
        "force_x": ("acc_x", G0 / 4096, 0),
        "force_z": ("acc_z", G0 / 4096, 0),
    }
    return Written("LOG00042.TXT", _csv(table), ("millis", 1e-3), columns, {})


def lines_of_json() -> Written:
    """One object a line, inner objects, seconds since 1970, degrees, z up in g0, packed."""
    f = flight(50.0, 9)
    rows = [
        json.dumps(
            {
                "ts": round(1780308000.0 + r.t, 4),
                "imu": {
                    "ax": round(r.ax / G0, 4),
                    "az": round(-r.az / G0, 4),
                    "pitch": round(np.degrees(r.pitch), 3),
                    "roll": round(np.degrees(r.roll), 3),
                },
                "gps": {"sog_kn": round(r.speed / KN, 2), "cog": round(np.degrees(r.heading), 1)},
                "height_mm": None if np.isnan(r.range) else round(1000 * r.range),
            }
        )
        for r in f.itertuples()
    ]
    columns = {
        "range": ("height_mm", 0.001, 0),
        "pitch": ("imu.pitch", DEG, 0),
        "roll": ("imu.roll", DEG, 0),
        "heading": ("gps.cog", DEG, 0),
        "speed": ("gps.sog_kn", KN, 0),
        "force_x": ("imu.ax", G0, 0),
        "force_z": ("imu.az", -G0, 0),
    }
    return Written("run.jsonl.gz", gzip.compress("\n".join(rows).encode()), ("ts", 1.0), columns, {})


def columnar() -> Written:
    """Parquet with names of the sensors, milliseconds since 1970, SI."""
    f = flight(100.0, 10)
    table = pd.DataFrame(
        {
            "epoch_ms": np.rint(1780308000000 + 1000 * f.t).astype("int64"),
            "lidar_range_m": f.range,
            "imu_pitch_rad": f.pitch,
            "imu_roll_rad": f.roll,
            "imu_wy": f.q,
            "imu_acc_x": f.ax,
            "imu_acc_z": f.az,
            "compass_rad": f.heading,
            "ground_speed": f.speed,
            "battery_v": f.volts,
        }
    )
    columns = {
        "range": ("lidar_range_m", 1, 0),
        "pitch": ("imu_pitch_rad", 1, 0),
        "roll": ("imu_roll_rad", 1, 0),
        "pitch_rate": ("imu_wy", 1, 0),
        "force_x": ("imu_acc_x", 1, 0),
        "force_z": ("imu_acc_z", 1, 0),
        "heading": ("compass_rad", 1, 0),
        "speed": ("ground_speed", 1, 0),
    }
    stream = BytesIO()
    table.to_parquet(stream, index=False)
    return Written("out.parquet", stream.getvalue(), ("epoch_ms", 1e-3), columns, {})


def console() -> Written:
    """Spaces between, comments, one of which has the headings nowhere near: the line of names has no mark."""
    f = flight(50.0, 11)
    lines = ["# hydrofoil logger v2", "# rate 50", "time_s dist_cm theta_deg phi_deg psi_deg ax az sog_kmh"]
    for number, r in enumerate(f.itertuples()):
        lines += ["# checkpoint"] if number % 500 == 400 else []
        seen = "nan" if np.isnan(r.range) else f"{100 * r.range:6.1f}"
        lines.append(
            f"{r.t:9.3f} {seen} {np.degrees(r.pitch):7.2f} {np.degrees(r.roll):7.2f} "
            f"{np.degrees(r.heading):6.1f} {r.ax:8.3f} {r.az:8.3f} {r.speed * 3.6:6.2f}"
        )
    columns = {
        "range": ("dist_cm", 0.01, 0),
        "pitch": ("theta_deg", DEG, 0),
        "roll": ("phi_deg", DEG, 0),
        "heading": ("psi_deg", DEG, 0),
        "force_x": ("ax", 1, 0),
        "force_z": ("az", 1, 0),
        "speed": ("sog_kmh", 1 / 3.6, 0),
    }
    return Written(
        "console.log", "\n".join(lines).encode(), ("time_s", 1.0), columns, {"delimiter": "space", "skip": 2, "comments": "#"}
    )


def sheet() -> Written:
    """Tabs in UTF-16, as a spreadsheet saves text; the date and the time of day in two columns; newest first."""
    f = flight(50.0, 12)
    stamp = pd.Timestamp("2026-06-01T14:59:50") + pd.to_timedelta(f.t, unit="s")
    table = pd.DataFrame(
        {
            "Date": stamp.dt.strftime("%d/%m/%Y"),
            "Time": stamp.dt.strftime("%H:%M:%S.%f").str[:-3],
            "Nose up (deg)": np.degrees(f.pitch).round(2),
            "Heel to starboard (deg)": np.degrees(f.roll).round(2),
            "Compass (deg)": np.degrees(f.heading).round(1),
            "Speed (knots)": (f.speed / KN).round(2),
            "Height sensor (mm)": (1000 * f.range).round(0),
            "Acc. forward (g)": (f.ax / G0).round(4),
            "Acc. up (g)": (-f.az / G0).round(4),
        }
    )
    columns = {
        "range": ("Height sensor (mm)", 0.001, 0),
        "pitch": ("Nose up (deg)", DEG, 0),
        "roll": ("Heel to starboard (deg)", DEG, 0),
        "heading": ("Compass (deg)", DEG, 0),
        "speed": ("Speed (knots)", KN, 0),
        "force_x": ("Acc. forward (g)", G0, 0),
        "force_z": ("Acc. up (g)", -G0, 0),
    }
    content = table[::-1].to_csv(index=False, sep="\t").encode("utf-16")
    return Written("sheet.txt", content, ("Time", 0.0), columns, {"delimiter": "tab"})


def bare() -> Written:
    """No headings at all: a clock and seven numbers, which must be told by what they are."""
    f = flight(100.0, 13)
    table = pd.DataFrame(
        {
            "t": np.rint(1000 * f.t).astype(int),
            "h": (100 * f.range).round(1),
            "p": np.degrees(f.pitch).round(2),
            "r": np.degrees(f.roll).round(2),
            "x": f.ax.round(3),
            "z": f.az.round(3),
            "c": np.degrees(f.heading).round(1),
            "v": f.speed.round(2),
        }
    )
    columns = {
        "range": ("2", 0.01, 0),
        "pitch": ("3", DEG, 0),
        "roll": ("4", DEG, 0),
        "force_x": ("5", 1, 0),
        "force_z": ("6", 1, 0),
        "heading": ("7", DEG, 0),
        "speed": ("8", 1, 0),
    }
    return Written("bare.csv", table.to_csv(index=False, header=False).encode(), ("1", 1e-3), columns, {"headings": False})


def bow_down() -> Written:
    """Pitch that says that it is bow down, an accelerometer in mg with z up, bars between, a row counter."""
    f = flight(100.0, 14)
    table = pd.DataFrame(
        {
            "n": np.arange(len(f)),
            "t_ms": np.rint(1000 * f.t).astype(int),
            "bow_down_deg": (-np.degrees(f.pitch)).round(2),
            "heel_deg": np.degrees(f.roll).round(2),
            "accx_mg": np.rint(1000 * f.ax / G0),
            "accz_mg": np.rint(-1000 * f.az / G0),
            "cog_deg": np.degrees(f.heading).round(1),
            "sog_kt": (f.speed / KN).round(2),
            "sonar_cm": (100 * f.range).round(1),
        }
    )
    columns = {
        "range": ("sonar_cm", 0.01, 0),
        "pitch": ("bow_down_deg", -DEG, 0),
        "roll": ("heel_deg", DEG, 0),
        "force_x": ("accx_mg", G0 / 1000, 0),
        "force_z": ("accz_mg", -G0 / 1000, 0),
        "heading": ("cog_deg", DEG, 0),
        "speed": ("sog_kt", KN, 0),
    }
    return Written("BOAT.CSV", _csv(table, sep="|"), ("t_ms", 1e-3), columns, {"delimiter": "bar"})


def two_rangefinders() -> Written:
    """Two rangefinders of which the first steers, a lidar that is not named by its unit, -1 for nothing, time of day."""
    f = flight(50.0, 15)
    draws = np.random.default_rng(3)
    stamp = pd.Timestamp("2026-06-01T23:59:40") + pd.to_timedelta(f.t, unit="s")
    second = (1000 * (f.range + 0.004 * draws.standard_normal(len(f)))).round(0).fillna(-1)
    table = pd.DataFrame(
        {
            "utc": stamp.dt.strftime("%H:%M:%S.%f").str[:-4],
            "lidar1": (1000 * f.range).round(0).fillna(-1),
            "lidar2": second,
            "pitchDeg": np.degrees(f.pitch).round(2),
            "rollDeg": np.degrees(f.roll).round(2),
            "pitchRateDps": np.degrees(f.q).round(2),
            "accelX": f.ax.round(3),
            "accelZ": (-f.az).round(3),
            "course": np.degrees(f.heading).round(0),
            "speedKph": (3.6 * f.speed).round(1),
        }
    )
    columns = {
        "range": ("lidar1", 0.001, 0),
        "pitch": ("pitchDeg", DEG, 0),
        "roll": ("rollDeg", DEG, 0),
        "pitch_rate": ("pitchRateDps", DEG, 0),
        "force_x": ("accelX", 1, 0),
        "force_z": ("accelZ", -1, 0),
        "heading": ("course", DEG, 0),
        "speed": ("speedKph", 1 / 3.6, 0),
    }
    return Written("night.csv", _csv(table), ("utc", 0.0), columns, {})


def held() -> Written:
    """Every cell holds the last reading; US spelling of words; feet and miles an hour; a status text in each row."""
    f = flight(100.0, 16).ffill().bfill()
    table = pd.DataFrame(
        {
            "Elapsed sec": f.t.round(3),
            "Status": "OK",
            "Altitude ft": (f.range / 0.3048).round(4),
            "Pitch angle": np.degrees(f.pitch).round(2),
            "Roll angle": np.degrees(f.roll).round(2),
            "Track": np.degrees(f.heading).round(1),
            "Speed mph": (f.speed / 0.44704).round(2),
            "Accel longitudinal g": (f.ax / G0).round(4),
            "Accel vertical g": (-f.az / G0).round(4),
        }
    )
    columns = {
        "range": ("Altitude ft", 0.3048, 0),
        "pitch": ("Pitch angle", DEG, 0),
        "roll": ("Roll angle", DEG, 0),
        "heading": ("Track", DEG, 0),
        "speed": ("Speed mph", 0.44704, 0),
        "force_x": ("Accel longitudinal g", G0, 0),
        "force_z": ("Accel vertical g", -G0, 0),
    }
    return Written("session 3.csv", _csv(table), ("Elapsed sec", 1.0), columns, {})


LOGGERS: dict[str, Callable[[], Written]] = {
    each.__name__: each
    for each in (
        autopilot,
        european,
        phone,
        counts,
        lines_of_json,
        columnar,
        console,
        sheet,
        bare,
        bow_down,
        two_rangefinders,
        held,
    )
}
