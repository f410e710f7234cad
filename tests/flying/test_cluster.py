"""A run on a cluster of two processes leaves the very files of a run on this machine, even if a worker is killed in mid-run."""

import math
import os
import signal
import sys
import time
from types import SimpleNamespace

import joblib
import pytest
from distributed import Client, LocalCluster

from sweep import cli, workflow
from sweep.campaign.campaign import load_campaign
from sweep.campaign.text.problems import ChoiceError
from sweep.flying import cluster, flights
from sweep.results.store import StoreError
from tests.benchmarks.kills import contents
from tests.test_workflow import CRAFT, SMALL, Listener

pytestmark = pytest.mark.usefixtures("unpublished")
FLIGHTS = (1 + 4) * 2 * 6


@pytest.fixture(scope="module")
def campaign(tmp_path_factory):
    path = tmp_path_factory.mktemp("cluster") / "small.yaml"
    path.write_text(SMALL.replace("replicates: 2\nflight", "replicates: 6\nflight").format(craft=CRAFT), encoding="utf-8")
    return load_campaign(path)


@pytest.fixture(scope="module")
def expected(campaign, tmp_path_factory):
    """What a run on this machine leaves."""
    folder = tmp_path_factory.mktemp("here")
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("sweep.report.publishing.publish_locked", lambda folder: folder / "site")
        workflow.run(campaign, folder, workers=1)
    return contents(folder)


def started_address():
    """Two processes of one thread each."""
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as started:
        yield started.scheduler_address


address = pytest.fixture(scope="module")(started_address)
unscathed = pytest.fixture(started_address)
"""The same, of which no test before has killed a worker: on a busy machine not every one is started again."""


class Counter(Listener):
    """Counts, and calls once when the first flights have come."""

    def __init__(self, at_first=lambda: None):
        super().__init__()
        self._at_first = at_first

    def flown(self, flights):
        if not self.flights:
            self._at_first()
        super().flown(flights)


def workers_of(address):
    """Process numbers of the workers, by their address."""
    with Client(address, set_as_default=False) as client:
        return client.run(os.getpid)


def test_other_processes_leave_the_same_bytes(campaign, expected, address, tmp_path):
    listener = Counter()
    workflow.run(campaign, tmp_path, watcher=listener, cluster=address)
    assert listener.begun["Flights"] == (FLIGHTS, 0)
    assert contents(tmp_path) == expected


def test_eight_workers_leave_the_same_bytes_as_one(campaign, expected, tmp_path):
    workflow.run(campaign, tmp_path, workers=8)
    assert contents(tmp_path) == expected


def test_the_flights_are_flown_there(address):
    with cluster.on_cluster(address, lambda: bytes):
        found = joblib.Parallel(n_jobs=1, prefer="threads")(joblib.delayed(os.getpid)() for _ in range(8))
    assert set(found) <= set(workers_of(address).values())


def test_a_killed_worker_changes_nothing(campaign, expected, address, tmp_path):
    victim = next(iter(workers_of(address).values()))
    listener = Counter(lambda: os.kill(victim, signal.SIGKILL))
    workflow.run(campaign, tmp_path, watcher=listener, cluster=address)
    assert victim not in workers_of(address).values()
    assert contents(tmp_path) == expected


class Unreadable:
    """What cannot be read where it arrives, as on a worker that joined without Foilsweep."""

    def __reduce__(self):
        return _unreadable, ()

    def __call__(self):
        return None


def _unreadable():
    raise ModuleNotFoundError("No module named 'sweep'")


def test_a_task_that_the_cluster_gives_up_is_an_error(address):
    with cluster.on_cluster(address, lambda: bytes), pytest.raises(cluster.ClusterError, match="gave up"):
        list(joblib.Parallel(n_jobs=1, prefer="threads", return_as="generator")([joblib.delayed(Unreadable())()]))


def test_a_worker_that_cannot_fly_says_so(address):
    with pytest.raises(cluster.ClusterError, match="cannot fly"), cluster.on_cluster(address, Unreadable):
        pytest.fail("it was let in")


class Dying:
    """A trial in which the worker that flies it first is killed."""

    def __init__(self, mark):
        self._mark, self._here = mark, os.getpid()

    def __call__(self):
        if os.getpid() != self._here:
            try:
                self._mark.touch(exist_ok=False)
            except FileExistsError:
                return b"flown"
            os.kill(os.getpid(), signal.SIGKILL)
        return b"flown"


def test_a_worker_that_is_killed_in_its_trial_is_not_waited_for(address, tmp_path):
    trial = Dying(tmp_path / "mark")
    with cluster.on_cluster(address, lambda: trial):
        assert (tmp_path / "mark").exists()


class Elsewhere:
    """A trial that gives other bytes in every process."""

    def __call__(self):
        return os.getpid().to_bytes(8, "little")


def test_a_worker_with_other_numbers_is_refused(address):
    with pytest.raises(cluster.ClusterError, match="does not fly to the same numbers"), cluster.on_cluster(address, Elsewhere):
        pytest.fail("it was let in")


class Known:
    """A trial that gives other bytes in processes that it does not know."""

    def __init__(self, known):
        self._known = known

    def __call__(self):
        return b"flown" if os.getpid() in self._known else b"another processor"


def await_others(address, known):
    """Wait until two workers are there that are none of these: joblib would fly for a single one in this process."""
    with Client(address, set_as_default=False) as client:
        for _ in range(1000):
            if len(set(client.run(os.getpid, on_error="ignore").values()) - known) == 2:
                return
            time.sleep(0.1)
    pytest.fail("the killed workers were not started again")


def test_a_worker_that_joins_later_flies_the_trial_too(unscathed):
    known = {*workers_of(unscathed).values(), os.getpid()}
    with cluster.on_cluster(unscathed, lambda: Known(known)):
        assert set(joblib.Parallel(n_jobs=1, prefer="threads")(joblib.delayed(os.getpid)() for _ in range(4))) <= known
        for worker in workers_of(unscathed).values():
            os.kill(worker, signal.SIGKILL)
        await_others(unscathed, known)
        with pytest.raises(cluster.ClusterError, match="does not fly to the same numbers"):
            joblib.Parallel(n_jobs=1, prefer="threads")([joblib.delayed(os.getpid)()])


def test_a_worker_with_another_model_is_refused():
    with pytest.raises(StoreError, match="another version of the model"):
        flights._do(None, "another")


def test_a_cluster_that_is_not_there(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(cluster, "PATIENCE", 0.2)
    path = tmp_path / "small.yaml"
    path.write_text(SMALL.format(craft=CRAFT), encoding="utf-8")
    command = ["run", str(path), "--out", str(tmp_path / "out"), "--cluster"]
    assert cli.main([*command, "tcp://127.0.0.1:9"]) == 1
    assert "tcp://127.0.0.1:9" in capsys.readouterr().err
    assert cli.main([*command, "nowhere"]) == 2
    assert "tcp://host:8786" in capsys.readouterr().err


def test_without_the_extra_packages(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ChoiceError, match="needs more packages"), cluster.on_cluster("tcp://first:8786", lambda: bytes):
        pytest.fail("there is nothing to fly with")


@pytest.mark.parametrize(("status", "until"), [("lost", math.inf), ("pending", 0.0)])
def test_a_worker_that_does_not_answer_is_not_taken_for_another_version(status, until):
    class Silent:
        def result(self, timeout):
            raise TimeoutError

    client, asked = SimpleNamespace(scheduler_info=lambda n_workers: {"workers": ["one"]}), Silent()
    asked.status = status
    with pytest.raises(cluster.ClusterError, match="one does not answer: the cluster is too busy") as error:
        cluster._answer(client, "one", asked, until)
    assert "version" not in str(error.value)
