"""No page reads an address of the craft file as prose: every page of two sites, its charts and what these say of a point."""

from __future__ import annotations

import csv
import html
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from altair.utils.schemapi import debug_mode

from sweep.campaign.campaign import Campaign, load_campaign
from sweep.campaign.craft import Craft
from sweep.model.quantities import RESPONSE_NAMES
from sweep.report.publishing import render
from tests.site_results import results_of

CONFIGS = Path(__file__).parent.parent.parent / "configs"
REST = """
conditions:
  seas: {chop: {kind: jonswap, height: 5 cm, period: 1.1 s}}
  headings: [head, following]
  speeds: [4 m/s]
  replicates: 2
flight: {length: 20 s, settle: 4 s, seed: 7}
limits: {touchdowns: 6 /min, upsets: 40 %}
score: {ride_height_error: {weight: 1.0, scale: 1 cm}, outside_window: {weight: 1.0, scale: 10 %}}
"""
UNLIKE = f"""
title: Lookout, laws and kinds in lists
craft: {CONFIGS}/craft/lookout.yaml
factors:
  control.preview: [0, 0.5, 1]
  rangefinders.tilt_limit: [20 deg, 40 deg]
  control.law: [level-and-height, fused-height]
  foils.*.section.polar: [naca-0012, naca-2412]
  rangefinders.layout: [bow, across-bow]
  an-awkwardly-long-name-of-forty-letters: {{addresses: [struts.height], levels: [20 cm, 24 cm]}}
plan: {{kind: latin-hypercube, designs: 24}}
{REST}"""
CHOICES = """
  foils.port.area: {addresses: [foils.port.area, foils.starboard.area], levels: [40 cm^2, 60 cm^2]}
  foils.aft.area: [40 cm^2, 60 cm^2]
  foils.*.aspect_ratio: [5, 7]
  foils.*.zero_lift_angle: [-3 deg, -2 deg]
  foils.*.taper: [0.6, 1]
  foils.*.pivot: [0.25, 0.3]
  foils.aft.incidence: [0 deg, 1 deg]
  foils.aft.x: [-44 cm, -40 cm]
  struts.height: [18 cm, 24 cm]
  struts.chord: [2.6 cm, 3 cm]
  struts.thickness: [4 mm, 4.5 mm]
  servos.bandwidth: [40 rad/s, 50 rad/s]
  servos.rate: [120 deg/s, 250 deg/s]
  servos.quantum: [0.1 deg, 0.3 deg]
  servos.backlash: [0 deg, 0.2 deg]
  rangefinders.layout: [bow, across-bow, over-foils]
  rangefinders.rate: [15 Hz, 40 Hz]
  rangefinders.latency: [20 ms, 100 ms]
  rangefinders.noise: [2 mm, 4 mm]
  rangefinders.blind: [2 cm, 4 cm]
  rangefinders.footprint: [mean, nearest]
  inertial.gyro_noise: [0.1 deg/s, 0.4 deg/s]
  body.mass: [2.9 kg, 3.2 kg]
  body.x: [-1 cm, 1 cm]
  control.ride_height: [9 cm, 10 cm]
  control.delay: [5 ms, 15 ms]
  control.height.proportional: [0.2 deg/cm, 0.8 deg/cm]
  control.height.derivative: [0.01 deg*s/cm, 0.03 deg*s/cm]
  control.pitch.proportional: [0.8 deg/deg, 1.6 deg/deg]
  control.roll.proportional: [0.6 deg/deg, 1 deg/deg]
"""
THIRTY = f"""
title: Courier, thirty choices
craft: {CONFIGS}/craft/courier.yaml
factors:{CHOICES}
plan: {{kind: latin-hypercube, designs: 40}}
{REST}"""

GROUPS = "|".join(Craft.model_fields)
ADDRESS = re.compile(rf"\b(?:{GROUPS})(?:\.[\w*-]+)+|\b[a-z]+(?:_[a-z]+)+\b")
"""An address, or a name with the low lines of the craft file; also of a response."""
KEYS = ("key", "factor", "page", "response", "f")
"""Columns of data that name other columns, or pages."""

Site = tuple[Campaign, dict[str, str]]


def _campaign(folder: Path, text: str) -> Campaign:
    (folder / "campaign.yaml").write_text(text, encoding="utf-8")
    return load_campaign(folder / "campaign.yaml")


@pytest.fixture(scope="module", params=[UNLIKE, THIRTY], ids=["unlike", "thirty"])
def site(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Site:
    judged = _campaign(tmp_path_factory.mktemp("campaign"), request.param)
    with debug_mode(False):
        return judged, render(results_of(judged, leaders=1))


def prose(page: str) -> Iterator[str]:
    """What a page says to a reader: its words, but for what is marked as a file's own, and what is read aloud of drawings."""
    yield from map(html.unescape, re.findall(r'(?:aria-label|placeholder|alt)="([^"]*)"', page))
    without = re.sub(r"<(script|style|code|kbd|pre)\b.*?</\1>", " ", page, flags=re.DOTALL)
    yield html.unescape(re.sub(r"<[^>]+>", " ", without))
    for spec in re.findall(r'<script type="application/json" id="[^"]*-spec">(.*?)</script>', page, re.DOTALL):
        yield from titles(json.loads(spec))


def titles(part: Any) -> Iterator[str]:
    """What a chart says: headings of axes, legends and tips, and its description."""
    for key, value in part.items() if isinstance(part, dict) else enumerate(part):
        if isinstance(value, str) and key in ("title", "description"):
            yield value
        elif key == "tips":
            yield from (title for _, title in value)
        elif isinstance(value, dict | list):
            yield from titles(value)


def told(name: str, text: str) -> Iterator[str]:
    if name.endswith(".html"):
        yield from prose(text)
    elif name.startswith("data/") and name.endswith(".js"):
        columns = json.loads(text[text.index("] = ") + 4 :].rstrip().rstrip(";"))
        for key, values in columns.items():
            yield from (each for each in values if isinstance(each, str) and key not in KEYS)


def test_no_page_reads_an_address_as_prose(site: Site) -> None:
    _, files = site
    found = {(name, word) for name, text in files.items() for said in told(name, text) for word in ADDRESS.findall(said)}
    assert not {(name, word) for name, word in found if name != "sure.html"}
    sources = {word for name, word in found if name == "sure.html"}  # formulas and functions of what it is compared with
    assert not {word for word in sources if word.partition(".")[0] in Craft.model_fields or word in RESPONSE_NAMES}


def test_words_of_levels_have_no_dashes(site: Site) -> None:
    judged, files = site
    words = {str(level) for factor in judged.factors.values() for level in factor.levels if isinstance(level, str)}
    dashed = {word for word in words if "-" in word and not any(sign.isdigit() for sign in word)}
    found = {(name, word) for name, text in files.items() for said in told(name, text) for word in dashed if word in said}
    assert not {(name, word) for name, word in found if name != "sure.html"}  # whose tables of evidence are files of their own


def test_addresses_stay_in_tooltips_and_files(site: Site) -> None:
    """So that whoever wants to change the campaign finds them."""
    judged, files = site
    headings = next(csv.reader(io.StringIO(files["data/designs.csv"])))
    for label in judged.factors:
        assert any(heading.startswith(label) for heading in headings)
        assert f'title="{html.escape(label)}"' in files["index.html"]


def test_links_name_columns_by_what_they_are(site: Site) -> None:
    """A link that was sent holds when the campaign gets one more factor before others."""
    _, files = site
    assert '"f_' in files["explore.html"]
    assert not re.search(r'"f\d+"', files["index.html"] + files["explore.html"])
