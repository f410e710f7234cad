"""What the tests of the results folder share."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A finished run without a site, which nobody may change."""
    import sweep
    from tests.test_workflow import campaign

    place = tmp_path_factory.mktemp("base")
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("sweep.report.publishing.publish_locked", lambda folder: folder / "site")
        sweep.run(campaign(place), place / "results")
    return place / "results"
