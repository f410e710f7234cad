"""The rooms of the package: each import that would open a wall is noticed."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tomllib
from copy import deepcopy
from pathlib import Path

import grimp
import pytest
from importlinter.configuration import configure
from importlinter.contracts.acyclic_siblings import AcyclicSiblingsContract
from importlinter.contracts.forbidden import ForbiddenContract
from importlinter.contracts.layers import LayersContract
from importlinter.domain.contract import Contract

ROOT = Path(__file__).parents[1]
KINDS = {"layers": LayersContract, "forbidden": ForbiddenContract, "acyclic_siblings": AcyclicSiblingsContract}
FORBIDDEN = [
    ("sweep.words.numbers", "sweep.campaign.factors"),
    ("sweep.model.pack.mass", "sweep.campaign.designs"),
    ("sweep.model.physics.foil", "sweep.model.kernels.frame"),
    ("sweep.model.kernels.strut_forces", "sweep.model.onboard.servo"),
    ("sweep.campaign.text.document", "sweep.campaign.craft"),
    ("sweep.insight.ranking", "sweep.results.store"),
    ("sweep.results.store", "sweep.cli"),
    ("sweep.results.partial", "sweep.workflow"),
    ("sweep.flying.race_run", "sweep.report.publishing"),
    ("sweep.logs.read.table", "sweep.logs.report.sentences"),
    ("sweep.report.charts.theme", "sweep.report.pages.sure"),
    ("sweep.model.physics.waves", "scipy"),
    ("sweep.insight.intervals", "sweep.insight.ranking"),
]


def texts(options: dict[str, object]) -> dict[str, object]:
    """Options as the linter reads them from a file: true and false are words."""
    return {name: str(value) if isinstance(value, bool) else value for name, value in options.items()}


@pytest.fixture(scope="module")
def rooms() -> tuple[grimp.ImportGraph, list[Contract]]:
    """The imports of the package, and the contracts of pyproject.toml."""
    options = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]
    package = {"root_packages": [options["root_package"]], "include_external_packages": "True"}
    configure()
    contracts = [KINDS[each["type"]](each["name"], package, texts(each)) for each in options["contracts"]]
    graph = grimp.build_graph("sweep", include_external_packages=True, cache_dir=None)
    return graph, contracts


def broken(graph: grimp.ImportGraph, contracts: list[Contract]) -> int:
    """How many contracts an import graph breaks."""
    return sum(not contract.check(deepcopy(graph), verbose=False).kept for contract in contracts)


def test_the_package_keeps_its_contracts(rooms):
    assert broken(*rooms) == 0


@pytest.mark.parametrize(("room", "above"), FORBIDDEN)
def test_an_import_of_a_room_above_or_in_a_circle_is_noticed(rooms, room, above):
    graph, contracts = rooms
    assert room in graph.modules
    assert above in graph.modules or above == "scipy"
    graph.add_import(importer=room, imported=above)
    try:
        assert broken(graph, contracts) > 0
    finally:
        graph.remove_import(importer=room, imported=above)


def test_an_import_for_a_type_alone_counts_too(tmp_path):
    shutil.copytree(ROOT / "sweep", tmp_path / "sweep", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    with (tmp_path / "sweep/model/pack/mass.py").open("a", encoding="utf-8") as file:
        file.write("\nfrom typing import TYPE_CHECKING\n\nif TYPE_CHECKING:\n    from sweep.campaign.plan import Plan\n")
    command = [Path(sys.executable).with_name("lint-imports"), "--no-cache"]
    found = subprocess.run(
        command, cwd=tmp_path, env=os.environ | {"PYTHONPATH": str(tmp_path)}, capture_output=True, text=True, check=False
    )
    assert found.returncode == 1
    assert "sweep.model.pack.mass -> sweep.campaign.plan" in found.stdout


def test_the_model_imports_nothing_of_a_craft_but_its_type():
    graph = grimp.build_graph("sweep", exclude_type_checking_imports=True, cache_dir=None)
    assert {
        (importer, imported)
        for importer in graph.find_descendants("sweep.model")
        for imported in graph.find_modules_directly_imported_by(importer)
        if not imported.startswith("sweep.model")
    } == set()


def test_the_top_of_the_package_holds_at_most_eight_modules():
    assert len(list((ROOT / "sweep").glob("*.py"))) <= 8
