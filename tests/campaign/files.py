"""Campaign and craft files for the tests, whole and with pieces exchanged."""

from __future__ import annotations

from pathlib import Path

from sweep.campaign.campaign import Campaign, load_campaign

CRAFT = """\
name: Tender
body: {mass: 3 kg, height: 6 cm, roll_radius: 12 cm, pitch_radius: 25 cm, yaw_radius: 27 cm}
hulls:
  main: {length: 90 cm, beam: 16 cm, deadrise: 14 deg, depth: 12 cm}
foils:
  port:      {x: 22 cm, y: -17 cm, area: 50 cm^2, aspect_ratio: 6}
  starboard: {x: 22 cm, y: 17 cm, area: 50 cm^2, aspect_ratio: 6}
  aft:       {x: -40 cm, area: 50 cm^2, aspect_ratio: 6}
struts: {height: 20 cm, chord: 3 cm, thickness: 4.5 mm}
rangefinders: {count: 1, x: 35 cm, blind: 2 cm, far: 1 m}
propulsor: {height: -18 cm, static_thrust: 30 N, no_thrust_speed: 15 m/s}
steering: {rudder: aft}
control:
  ride_height: 9.9 cm
  height: {proportional: 0.4 deg/cm}
  pitch: {proportional: 1.2 deg/deg}
  roll: {proportional: 0.8 deg/deg}
"""

CAMPAIGN = """\
title: Tender in a chop
craft: tender.yaml
water: {kind: fresh, temperature: 18 degC, depth: 4 m}
factors:
  foils.*.area: {from: 36 cm^2, to: 72 cm^2, levels: 4}
  struts.height: [14 cm, 18 cm, 22 cm]
  rangefinders.count: [1, 2, 3]
  rangefinders.layout: [bow, over-foils]
  control.height.proportional: {from: 0.2 deg/cm, to: 0.8 deg/cm, levels: 3, spacing: log}
  arm: {addresses: [foils.port.x, foils.starboard.x], levels: [20 cm, 22 cm]}
plan: full-factorial
conditions:
  seas:
    calm: {kind: flat}
    chop: {kind: jonswap, height: [4 cm, 8 cm], period: 1.2 s}
    swell: {kind: regular, height: 5 cm, period: [1 s, 2 s]}
  headings: [head, 120 deg]
  speeds: [3.5 m/s, 9 km/h]
  replicates: 4
flight: {length: 40 s, settle: 5 s, seed: 7}
limits: {touchdowns: 1 /min, upsets: 2 %}
score:
  ride_height_error: {weight: 1.0, scale: 1 cm}
  pitch_rms: {weight: 0.3, scale: 2 deg}
"""

Changes = tuple[tuple[str, str], ...]


def changed(text: str, changes: Changes) -> str:
    """The text with pieces exchanged, each of which must be there."""
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def write(folder: Path, campaign: Changes = (), craft: Changes = ()) -> Path:
    """Both files in a folder; the campaign's path."""
    (folder / "tender.yaml").write_text(changed(CRAFT, craft), encoding="utf-8")
    path = folder / "chop.yaml"
    path.write_text(changed(CAMPAIGN, campaign), encoding="utf-8")
    return path


def load(folder: Path, *campaign: tuple[str, str], craft: Changes = ()) -> Campaign:
    """The campaign of both files, with pieces exchanged."""
    return load_campaign(write(folder, campaign, craft))
