import io
import json
import re

import numpy as np
import pandas as pd
import pytest

from sweep.campaign.conditions import list_conditions
from sweep.campaign.text.problems import ChoiceError
from sweep.model.quantities import RESPONSE_NAMES, STATUS_NAMES
from sweep.report.single_flight import (
    choose,
    flight_files,
    flight_text,
    fly_chosen,
    outcome,
    response_rows,
    table_path,
    write_flight,
)
from tests.flying.test_flights import campaign, flown

UPSET = STATUS_NAMES.index("upset")
FOLLOWING = "chop, following, 4 m/s"


@pytest.fixture(scope="module")
def single():
    chosen = choose(campaign(), 3, FOLLOWING, 1)
    return chosen, fly_chosen(campaign(), chosen, 50.0)


def test_it_is_the_flight_that_the_campaign_flies(single):
    """The same numbers as the row of the campaign's own run."""
    rows = flown(campaign())
    row = rows[(rows["design"] == 3) & (rows["condition"] == 1) & (rows["replicate"] == 1)].iloc[0]
    assert single[1].status == row["status"]
    np.testing.assert_array_equal(
        [single[1].responses[name] for name in RESPONSE_NAMES], row[list(RESPONSE_NAMES)].astype(float)
    )


def test_its_history_is_that_flight(single):
    """The recorded height error while it is scored, by pandas, is the response, but for 50 rows a second."""
    history = single[1].history
    error = history["ride_height"] - campaign().craft.control.ride_height
    assert np.sqrt((error[history["time"] >= 1.0] ** 2).mean()) == pytest.approx(
        single[1].responses["ride_height_error"], rel=0.02
    )


def test_a_boat_that_its_code_stopped_says_when(single):
    """When it was stopped for good: once before, it was armed again."""
    chosen, flight = single
    time = flight.history["time"]
    by = np.where((time >= 1.0) & (time < 1.5), 1.0, np.where(time >= 3.0, 2.0, 0.0))
    stopped = flight._replace(status=STATUS_NAMES.index("link-lost"), history=flight.history.assign(stopped_by=by))
    assert outcome(chosen, stopped).split(": ", 1)[1].startswith("stopped by its code: the link was lost, after 3 s.")


@pytest.mark.parametrize(("rate", "rows"), [(10.0, 40), (50.0, 200), (1e6, 800)])
def test_the_rate_is_rows_a_second_up_to_the_steps(rate, rows):
    """4 s: 40 rows at 10 Hz; the courier's step is 5 ms."""
    history = fly_chosen(campaign(), choose(campaign(), 0, "0", 0), rate).history
    assert len(history) == rows
    assert np.diff(history["time"]) == pytest.approx(4.0 / rows)


def test_a_condition_is_found_by_name_and_by_number():
    conditions = list_conditions(campaign())
    assert choose(campaign(), 0, FOLLOWING, 0).condition == conditions[1]
    assert choose(campaign(), 0, "1", 0).condition == conditions[1]


def test_a_wrong_condition_lists_the_nearest():
    with pytest.raises(ChoiceError) as refusal:
        choose(campaign(), 0, "chop, folowing, 4 m/s", 0)
    lines = str(refusal.value).splitlines()
    assert lines[0].startswith("condition 'chop, folowing, 4 m/s': wanted the name or the number")
    assert lines[1].strip() == f"1  {FOLLOWING}"


@pytest.mark.parametrize("name", ["xyz", "2", "-1", "²"])
def test_a_condition_like_no_other_lists_some(name):
    with pytest.raises(ChoiceError, match=r"0  chop, head, 4 m/s"):
        choose(campaign(), 0, name, 0)


def test_a_wrong_design_is_told_which_there_are():
    with pytest.raises(ChoiceError, match=r"design 13: wanted .*, 0 \(the base craft\) to 12"):
        choose(campaign(), 13, "0", 0)


def test_every_response_is_told_with_its_unit(single):
    rows = response_rows(single[1])
    assert len(rows) == len(RESPONSE_NAMES)
    shown = {title: value for title, value, _ in rows}
    error = single[1].responses["ride_height_error"]
    assert shown["ride height error"] == f"{float(f'{100 * error:.3g}'):g} cm"
    assert shown["take off time"] == "not known"
    assert flight_text(*single).splitlines()[0] == f"Design 3 in {FOLLOWING}, replicate 1: flew to the end."
    assert len(flight_text(*single).splitlines()) == 1 + len(RESPONSE_NAMES)


def test_an_early_end_is_told_with_its_time(single):
    """By hand: the history cut at 2 s."""
    chosen, flight = single
    early = flight._replace(status=UPSET, history=flight.history[flight.history["time"] <= 2.5e-3 + 2.0])
    assert outcome(chosen, early).endswith("upset: rolled past 35 degrees or pitched past 45, after 2 s.")


def test_what_has_no_trim_is_told_in_a_sentence():
    slow = campaign(speeds=(1.0,))
    chosen = choose(slow, 0, "0", 0)
    flight = fly_chosen(slow, chosen, 50.0)
    assert flight_text(chosen, flight) == (
        "The base craft (design 0) in chop, head, 1 m/s, replicate 0: "
        "could not start: no trim within foil travel and thrust at this speed."
    )
    assert flight.history.empty


def test_the_csv_has_every_column_with_its_unit(single, tmp_path):
    write_flight(campaign(), *single, tmp_path)
    table, history = pd.read_csv(tmp_path / table_path(single[0])), single[1].history
    named = r"[a-z_]+, (s|m|cm|deg|%|m/s|W)|ventilated|leg|stopped(_by)?|[a-z]+_readings"
    assert all(re.fullmatch(named, name) for name in table.columns[1:])
    assert len(table.columns) == len(history.columns)
    np.testing.assert_allclose(table["ride_height, cm"], 100.0 * history["ride_height"], rtol=0, atol=0.00501)
    np.testing.assert_allclose(table["x, m"], history["x"], atol=0.005)
    np.testing.assert_allclose(table["foil_aft, deg"], np.degrees(history["foil_aft"]), rtol=0, atol=0.00501)


def test_the_page_needs_nothing_but_its_own_files(single):
    files = flight_files(campaign(), *single)
    for name in ("index.html", "cautions.html"):
        linked = re.findall(r'(?:src|href)="([^"#]+)"', files[name])
        assert {link for link in linked if link not in files} == set()
    assert "Design 3" in files["index.html"]
    assert pd.read_csv(io.StringIO(files[table_path(single[0])])).shape[0] == 200


def test_the_replay_is_in_the_waves_of_its_replicate(single):
    """The page shows a sea only where it agrees with the recorded surface."""
    sea = flight_files(campaign(), *single)["data/sea-3.js"]
    components = json.loads(sea[sea.rindex("= {") + 2 :].rstrip(";\n"))
    assert len(components["amplitude"]) > 8
    assert set(components["condition"]) == {1}


def test_the_same_flight_gives_the_same_page(single):
    again = fly_chosen(campaign(), single[0], 50.0)
    assert flight_files(campaign(), single[0], again) == flight_files(campaign(), *single)
