"""Made-up results that many tests read and none changes, and a site of them: each made once."""

from __future__ import annotations

import pytest

from sweep.report.embed import Files
from sweep.report.publishing import render
from sweep.results.store import Results
from tests.site_results import results


@pytest.fixture(scope="session")
def told(tmp_path_factory: pytest.TempPathFactory) -> Results:
    """Those of `results`."""
    return results(tmp_path_factory.mktemp("campaign"))


@pytest.fixture(scope="session")
def told_of_one(tmp_path_factory: pytest.TempPathFactory) -> Results:
    """The same with the records of one leader and the base craft."""
    return results(tmp_path_factory.mktemp("campaign"), leaders=1)


@pytest.fixture(scope="session")
def site_of_one(told_of_one: Results) -> Files:
    """The site of `told_of_one`, every chart of it checked against its schema."""
    return render(told_of_one)
