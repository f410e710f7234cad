import io
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.factors import Factor
from sweep.insight.ranking import ONE_REPLICATE
from sweep.report import terminal
from sweep.report.terminal import standings_csv, standings_text

HEIGHT = Factor(label="struts.height", addresses=("struts.height",), levels=(0.16, 0.2), unit="cm")
CAMPAIGN = SimpleNamespace(factors={"struts.height": HEIGHT})


@pytest.fixture
def designs():
    return pd.DataFrame({"struts.height": [0.18, 0.16, 0.2]}, index=pd.RangeIndex(3, name="design"))


@pytest.fixture
def standings():
    table = pd.DataFrame({"design": [2, 0, 1], "place": pd.array([1, 2, None], dtype="Int64")})
    table["place_low"], table["place_high"] = pd.array([1, 2, None], dtype="Int64"), pd.array([1, 2, None], dtype="Int64")
    for name, values in {"score": [0.5, 0.75, 3.0], "gain": [0.25, 0.0, -2.25]}.items():
        table[name], table[f"{name}_low"], table[f"{name}_high"] = values, np.array(values) - 0.1, np.array(values) + 0.1
    table["good_enough"], table["failed"] = [True, False, False], [0.0, 0.25, 1.0]
    table["above_high"], table["riding_high"], table["failing_high"] = [0.75, np.inf, np.nan], 0.5, np.nan
    table["verdict"], table["reason"] = ["kept", "not yet known", "broken"], ["", "Upsets: ...", "Upsets: ..."]
    return table


def test_the_standings_stand_in_columns(designs, standings):
    lines = standings_text(CAMPAIGN, designs, standings).splitlines()
    assert lines[0].split()[:2] == ["place", "design"]
    assert lines[1].split() == [
        "1",
        "(1-1)",
        "2",
        "0.5",
        "+-",
        "0.1",
        "0.25",
        "+-",
        "0.1",
        "0",
        "%",
        "20",
        "good",
        "enough,",
        "within",
        "75",
        "%",
        "of",
        "the",
        "best",
    ]
    assert lines[3].split()[:2] == ["-", "1"]
    assert lines[3].endswith("refused")
    assert [line.index("%") for line in lines[1:]] == [lines[1].index("%")] * 3
    none = standings_text(CAMPAIGN, designs, standings.assign(good_enough=False))
    assert "good enough" not in none


def test_a_place_is_told_with_the_first_and_the_last_that_it_may_be(designs, standings):
    wide = standings.assign(place_high=pd.array([2, 9, None], dtype="Int64"))
    lines = standings_text(CAMPAIGN, designs, wide).splitlines()
    assert [" ".join(line.split()[:2]) for line in lines[1:3]] == ["1 (1-2)", "2 (2-9)"]


def test_an_unknown_interval_is_left_out(designs, standings):
    unknown = standings.assign(score_low=np.nan, score_high=np.nan, gain_low=np.nan, gain_high=np.nan)
    text = standings_text(CAMPAIGN, designs, unknown)
    assert "+-" not in text
    assert text.splitlines()[-1] == ONE_REPLICATE


def test_what_is_left_out_is_said(designs, standings, monkeypatch):
    monkeypatch.setattr(terminal, "MOST_ROWS", 2)
    assert standings_text(CAMPAIGN, designs, standings).splitlines()[-1] == "... and 1 more"


@pytest.mark.parametrize("width", [30, 45, 60, 80, 400])
def test_a_table_fits_the_terminal_and_says_what_it_left_out(designs, standings, width):
    lines = standings_text(CAMPAIGN, designs, standings, width).splitlines()
    assert max(map(len, lines)) <= max(width, 36), "place, design and score are always there"
    whole = standings_text(CAMPAIGN, designs, standings).splitlines()
    assert (lines == whole) == (max(map(len, whole)) <= width)
    assert ("for want of room" in " ".join(lines)) == (lines != whole)


def test_csv_has_every_row_and_the_factors(designs, standings):
    table = pd.read_csv(io.StringIO(standings_csv(designs, standings)))
    assert table["design"].tolist() == [2, 0, 1]
    assert table["struts.height"].tolist() == [0.2, 0.18, 0.16]
    assert table["place"].isna().tolist() == [False, False, True]
    assert table["score"].tolist() == [0.5, 0.75, 3.0]
