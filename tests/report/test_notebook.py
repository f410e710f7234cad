"""The Python interface: the README's snippet as it stands, and each table and chart against made-up results."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import sweep
from sweep.report.pages import tradeoffs as of_tradeoffs
from sweep.results.store import Results
from sweep.words.units import si_unit

ROOT = Path(__file__).parents[2]


@pytest.mark.usefixtures("without_design_pages")
def test_the_snippet_of_the_readme_runs(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Every line of it; each expression gives something to look at."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    (snippet,) = re.findall(r"```python\n(.*?)```", readme, re.DOTALL)
    (tmp_path / "configs").symlink_to(ROOT / "configs")
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    seen = []
    for statement in ast.parse(snippet).body:
        if isinstance(statement, ast.Expr):
            seen.append(eval(compile(ast.Expression(statement.value), "README.md", "eval"), names))
        else:
            exec(compile(ast.Module([statement], []), "README.md", "exec"), names)
    tables = [each for each in seen if isinstance(each, pd.DataFrame | pd.Series)]
    assert len(tables) == 5
    assert all(len(table) for table in tables)
    charts = [each.to_dict() for each in seen if hasattr(each, "to_dict") and not isinstance(each, pd.DataFrame | pd.Series)]
    assert len(charts) == 2
    assert (tmp_path / "results" / "quick" / "site" / "builds.html").exists()


def cells(path: Path) -> list[str]:
    """The code of a notebook, cell by cell (nbformat 4.5, the schema that notebooks are written by)."""
    notebook = json.loads(path.read_text(encoding="utf-8"))
    assert (notebook["nbformat"], notebook["nbformat_minor"]) == (4, 5)
    ids = [cell["id"] for cell in notebook["cells"]]
    assert len(set(ids)) == len(ids)
    assert all(cell["cell_type"] == "markdown" or cell["outputs"] == [] for cell in notebook["cells"])
    return ["".join(cell["source"]) for cell in notebook["cells"] if cell["cell_type"] == "code"]


@pytest.mark.usefixtures("without_design_pages")
def test_the_notebook_runs(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every cell, and what its last line shows: short as text, and charts drawn without a network."""
    for name in ("quick.yaml", "craft"):
        (tmp_path / name).symlink_to(ROOT / "configs" / name)
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    shown = []
    for source in cells(ROOT / "configs" / "notebook.ipynb"):
        *body, last = ast.parse(source).body
        exec(compile(ast.Module(body, []), "notebook", "exec"), names)
        if isinstance(last, ast.Expr):
            shown.append(eval(compile(ast.Expression(last.value), "notebook", "eval"), names))
        else:
            exec(compile(ast.Module([last], []), "notebook", "exec"), names)
    results, _, units, *_, _, _ = shown
    assert repr(results).startswith("<Results of 'Courier, a first look'")
    assert len(repr(results)) < 200
    assert "<table" in results._repr_html_()
    assert {"struts.height": "m", "mass": "kg"}.items() <= units.items()
    for chart in shown[-2:]:
        bundle = chart._repr_mimebundle_()
        drawn = bundle[0] if isinstance(bundle, tuple) else bundle
        assert drawn["image/svg+xml"].startswith("<svg")
        assert "http" not in drawn["image/svg+xml"].replace("http://www.w3.org/", "")
    assert "spedes: found" in capsys.readouterr().out


def test_the_interface_is_listed_and_told() -> None:
    assert dir(sweep) == sweep.__all__
    assert sweep.__doc__ is not None
    for name in sweep.__all__:
        assert re.search(rf"\b{name}\b", sweep.__doc__), name
        assert getattr(sweep, name).__doc__, name
    campaign = sweep.load_campaign(ROOT / "configs" / "quick.yaml")
    assert len(repr(campaign)) < 200
    assert repr(campaign) == str(campaign)
    assert repr(campaign).startswith("<Campaign 'Courier, a first look'")


def test_tables_tell_their_units(told: Results) -> None:
    """SI by the brochure of the BIPM, 9th edition (2019): metre, kilogram, second, ampere, kelvin; radian for an angle."""
    units = sweep.standings(told).attrs["units"]
    assert units["mass"] == "kg"
    assert units["control.height.proportional"] == "rad/m"
    assert sweep.trade_offs(told, "ride_height_error", "pitch_rms").attrs["units"] == {
        "ride_height_error": "m",
        "pitch_rms": "rad",
    }
    known = {
        "cm": "m",
        "deg/s": "rad/s",
        "%": "",
        "/min": "/s",
        "MPa": "Pa",
        "degC": "K",
        "deg*s/cm": "rad*s/m",
        "mAh": "A*s",
        "g/cm^3": "kg/m^3",
    }
    assert {text: si_unit(text) for text in known} == known


def test_tables_carry_what_was_chosen(told: Results) -> None:
    standings = sweep.standings(told)
    assert standings["design"].tolist() == told.standings["design"].tolist()
    assert {"mass", "price", "control.height.proportional", "gain_low"} <= set(standings)
    builds = sweep.builds(told)
    np.testing.assert_array_equal(builds["mass"], told.designs["mass"].loc[builds["design"]])


def test_effects_are_of_the_response_asked_for(told: Results) -> None:
    assert len(sweep.effects(told)) == len(sweep.effects(told, "touchdowns")) == 3 + 3
    assert not sweep.effects(told)["share"].equals(sweep.effects(told, "touchdowns")["share"])
    with pytest.raises(ValueError, match=r"no effects on 'pitch'; there are: score, .*touchdowns"):
        sweep.effects(told, "pitch")


def test_trade_offs_are_those_of_the_page_and_of_any_number(told: Results) -> None:
    columns, table = of_tradeoffs.quantities(told)
    found = sweep.trade_offs(told, "ride_height_error", "mass")
    page = of_tradeoffs.find_front(table, "ride_height_error", "mass")
    assert set(found["design"]) == set(page.designs)
    assert found.loc[found["knee"], "design"].tolist() == ([] if page.knee is None else [page.knee])
    assert len(columns) > 3
    three = sweep.trade_offs(told, "ride_height_error", "mass", "plunges", "speed_mean")
    assert set(found["design"]) <= set(three["design"]) or len(three) >= len(found)
    assert not three["knee"].any()
    with pytest.raises(ValueError, match="two quantities"):
        sweep.trade_offs(told, "mass")
    with pytest.raises(ValueError, match="no quantity is called 'weight'"):
        sweep.trade_offs(told, "mass", "weight")


@pytest.mark.parametrize("name", ["standings", "builds", "effects", "tolerances", "conditions", "trade-offs"])
def test_every_chart_holds_its_data(told: Results, name: str) -> None:
    chart = sweep.chart(told, name).to_dict()
    held = set(chart["datasets"])
    named = {part["data"]["name"] for part in [chart, *chart["layer"]] if "name" in part.get("data", {})}
    assert named <= held
    assert all(len(rows) for rows in chart["datasets"].values())


def test_charts_take_what_they_are_asked_for(told: Results) -> None:
    def rows(chart: object) -> list[dict[str, object]]:
        return next(iter(chart.to_dict()["datasets"].values()))  # type: ignore[attr-defined]

    assert {row["response"] for row in rows(sweep.chart(told, "effects", response="touchdowns"))} == {"touchdowns"}
    assert {row["design"] for row in rows(sweep.chart(told, "tolerances", design=0))} == {0}
    traded = sweep.chart(told, "trade-offs", between=["plunges", "mass"]).to_dict()
    assert traded["layer"][0]["encoding"]["x"]["field"] == "plunges"
    with pytest.raises(ValueError, match="no chart is called 'pie'; there are: standings"):
        sweep.chart(told, "pie")
    with pytest.raises(ValueError, match="nothing to draw of tolerances"):
        sweep.chart(told, "tolerances", design=10_000)
    with pytest.raises(ValueError, match="cannot trade off 'ride_height_bias'"):
        sweep.chart(told, "trade-offs", between=["ride_height_bias", "mass"])
