"""What the pages say of strength: rows of a design's page, columns of all designs, and what to hang on a strut on the bench."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from sweep.campaign.craft import Craft
from sweep.model.quantities import OF_STRENGTH
from sweep.report.craft_sheet import sheet
from sweep.report.display import craft_of_design, design_table
from sweep.report.pages.card import signs
from sweep.report.pages.strength import bench_loads, strength_table
from sweep.results.store import Results
from tests.model.crafts import changed
from tests.site_results import results


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    """Of a craft without a material."""
    return results(tmp_path_factory.mktemp("campaign"), areas=2)


@pytest.fixture
def strained(told: Results) -> Results:
    """The same with strains in its flights: 4 mm of bend, but 12 mm once in condition 1, where half of the flights bend."""
    flights = told.flights.assign(strut_bend=0.004, strength_used=0.2, strut_stress=50e6, overloads=0.0, bends=0.0)
    there = flights["condition"] == 1
    flights.loc[there, "bends"] = np.arange(there.sum()) % 2
    flights.loc[flights[there].index[0], "strut_bend"] = 0.012
    means = flights.groupby("design")[["strut_bend", "bends"]].mean().reset_index()
    means["strut_bend"] += 0.001 * means["design"]
    return dataclasses.replace(told, flights=flights, responses=means)


def solid(craft: Craft) -> Craft:
    return changed(craft, {"struts.material": "glass-epoxy"})


def test_a_craft_without_a_material_is_not_judged(told: Results) -> None:
    table = strength_table(told, 1, craft_of_design(told, 1))
    assert table.rows == [("struts and foils", "not judged: no material is given in the craft file")]
    assert list(bench_loads(craft_of_design(told, 1))) == []
    columns, _ = design_table(told)
    assert not {column.key for column in columns} & set(OF_STRENGTH)


def test_a_design_s_page_says_mean_and_largest_and_where(strained: Results) -> None:
    craft = solid(craft_of_design(strained, 1))
    rows = {row[0]: row[1:] for row in strength_table(strained, 1, craft).rows}
    where = str(strained.conditions["name"][1])
    mine = strained.flights_of(1)
    assert rows["strut stress"] == ("50 MPa", "50 MPa", str(strained.conditions["name"][0]))
    assert rows["strength used"][:2] == ("20 %", "20 %")
    if mine["strut_bend"].max() > 0.004:
        assert rows["strut bend"][1:] == ("12 mm", where)
    bent = next(cells for name, cells in rows.items() if name.startswith("flights: a part bent"))
    assert bent == (f"{100.0 * mine['bends'].mean():.3g} %", "", where)
    unsaid = rows["not judged, for no material is given"][0]
    assert all(f"foil {name}" in unsaid for name in craft.foils)
    assert "strut" not in unsaid


def test_all_designs_have_the_known_strains_as_columns(strained: Results) -> None:
    columns, table = design_table(strained)
    headings = {column.key: column.heading for column in columns}
    assert headings["strut_bend"] == "strut bend, mm"
    assert "foil_bend" not in headings
    expected = 1000.0 * strained.responses.set_index("design")["strut_bend"]
    assert table.set_index("design")["strut_bend"].sort_index().to_numpy() == pytest.approx(expected.to_numpy(), rel=1e-3)


def test_what_hangs_on_a_strut_bends_it_as_the_handbook_says(told: Results) -> None:
    """F H^3 / (3 E I) of a cantilever under a load at its end (Roark), I of the NACA section; little of its strength."""
    craft = solid(craft_of_design(told, 0))
    [(do, see)] = list(bench_loads(craft))
    assert all(name in do for name in craft.foils)
    mass, strut = float(do.split("hang ")[1].split(" kg")[0]), craft.struts
    stiffness = 20e9 * 0.03941 * strut.chord * strut.thickness**3
    bend = mass * 9.81 * strut.height**3 / (3.0 * stiffness)
    assert f"{1000.0 * bend:.3g} mm" in see
    assert 0.005 * strut.height < bend < 0.05 * strut.height
    assert (do, see) in list(signs(craft))


def test_the_sheet_names_the_materials(told: Results) -> None:
    craft = solid(craft_of_design(told, 0))
    rows = {row[0]: row[1:] for row in sheet(craft)[0].rows}
    assert set(rows["material of its struts"]) == {"glass-epoxy"}
    assert set(rows["material"]) == {"not said"}


def test_no_page_of_old_results_is_missed(tmp_path: Path, told: Results) -> None:
    """Flights of before have no column of strength."""
    bare = dataclasses.replace(told, flights=told.flights.drop(columns=[*OF_STRENGTH], errors="ignore"))
    assert strength_table(bare, 1, craft_of_design(bare, 1)).headings == []
