"""Mutated files of every kind are read or refused in words; the command `fuzz` does it many times and tells the counts."""

import shutil
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.benchmarks.fuzz import CONFIGS, as_bytes, put_logs, targets, try_one
from tests.benchmarks.fuzz_folders import read, sound, try_folder
from tests.benchmarks.fuzz_steered import Folders


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shipped files where they may be changed, with a craft and logs beside the mapping file."""
    place = tmp_path_factory.mktemp("fuzz") / "configs"
    shutil.copytree(CONFIGS, place)
    put_logs(place / "log")
    return place


@pytest.mark.parametrize("kind", targets())
@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 2**32))
def test_a_mutated_file_is_read_or_refused_in_words(place: Path, kind: str, seed: int) -> None:
    target, draws = targets()[kind], Random(seed)
    path = draws.choice(target.copy(place))
    text = target.mutate(path.read_text(encoding="utf-8"), draws)
    assert try_one(target, path, as_bytes(text)) in ("read", "refused")


@pytest.mark.parametrize("kind", targets())
def test_a_sound_file_is_read(place: Path, kind: str) -> None:
    target = targets()[kind]
    for path in target.copy(place):
        assert try_one(target, path, path.read_bytes()) == "read"


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 2**32))
def test_a_changed_results_folder_is_read_or_refused_in_words(seed: int) -> None:
    with TemporaryDirectory() as place:
        came, what = try_folder(Random(seed), Path(place))
    assert came in ("read", "refused"), f"{what}: {came}"


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> Folders:
    """Results folders that are changed as bytes say."""
    return Folders(tmp_path_factory.mktemp("steered"))


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 2**32))
def test_a_results_folder_changed_as_bytes_say_is_read_or_refused_in_words(folders: Folders, seed: int) -> None:
    draws = Random(seed)
    content = folders.mutated(draws.choice(folders.seeds()), draws)
    assert folders.try_one(content) in ("read", "refused"), content


def test_bytes_that_change_nothing_leave_a_folder_that_is_read(folders: Folders) -> None:
    assert {folders.try_one(content) for content in folders.seeds()[::12]} == {"read"}


def test_a_sound_results_folder_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    sweep, race = sound()
    monkeypatch.setattr("sweep.report.publishing.DESIGN_PAGES", {})  # the tests of runs draw those of a sweep and of a race
    read(race, draw=True)
    read(sweep, draw=True)
