"""Other computers: a run's flights on the workers of a Dask cluster, through joblib.

A worker takes part only if it flies one short trial to the same bits as this machine, so that results do not depend on who flew
them. Workers that are there at the start fly it first; a worker that joins later flies it before its first flights.
"""

from __future__ import annotations

import logging
import pickle
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any
from uuid import uuid4

import joblib

from sweep.campaign.text.problems import ChoiceError

if TYPE_CHECKING:
    from distributed import Client

PATIENCE = 10  # s, to reach the scheduler (judgement)
TRIAL_PATIENCE = 600  # s, for a trial with compiling before it (judgement)
DIFFERS = (
    "does not fly to the same numbers as the computer of the run: it needs the same versions of Foilsweep and numba, "
    "and the same kind of processor."
)
LOOK_AGAIN = 2  # s, to see whether a worker that does not answer is still there (judgement)


class ClusterError(ConnectionError):
    """The cluster cannot be used; the message says why."""


@contextmanager
def on_cluster(address: str | None, trial: Callable[[], Callable[[], bytes]]) -> Iterator[None]:
    """A context in which joblib's parallel calls go to the cluster; without an address nothing changes.

    address: of the scheduler, as tcp://host:8786; trial: makes what every worker must return to the byte.
    Raises ChoiceError without the extra packages, OSError if nobody answers, ClusterError if workers are missing or differ.
    """
    if address is None:
        yield
        return
    try:
        from distributed import Client
    except ImportError as error:
        raise ChoiceError("--cluster needs more packages on every computer: install Foilsweep as '.[cluster]'.") from error
    _hush()
    with _connect(Client, address) as client:
        flown = trial()
        here = _compare_workers(client, address, flown)
        with _kept_trial(client, flown, here) as name, joblib.parallel_config(backend=_backend(client, name)):
            yield


@contextmanager
def _kept_trial(client: Any, trial: Callable[[], bytes], here: bytes) -> Iterator[str]:
    """The name under which the scheduler keeps a trial and its result, for workers that join later."""
    name = f"foilsweep-trial-{uuid4().hex}"
    client.set_metadata([name], pickle.dumps((trial, here)))
    try:
        yield name
    finally:
        with suppress(Exception):  # a scheduler that is gone keeps nothing, and has been reported
            client.set_metadata([name], None)


_passed: set[str] = set()
"""Names of the trials that this process, a worker's, has flown to the right bytes."""


class Admitted:
    """A function that a worker runs only after it has flown the run's trial to the same bytes; raises ClusterError if not."""

    def __init__(self, act: Callable[..., Any], name: str) -> None:
        self._act, self._name = act, name

    def __call__(self, *wanted: Any, **named: Any) -> Any:
        """Fly the trial, the first time in a process; then call."""
        if self._name not in _passed:
            import distributed

            client: Any = distributed.get_client()
            trial, expected = pickle.loads(client.get_metadata([self._name]))
            if trial() != expected:
                raise ClusterError(f"{distributed.get_worker().address} {DIFFERS}")
            _passed.add(self._name)
        return self._act(*wanted, **named)


def _hush() -> None:
    """Silence the packages' logs: they are tracebacks of what is said here in words."""
    for name, logger in logging.root.manager.loggerDict.items():
        if name.split(".")[0] in ("distributed", "tornado") and isinstance(logger, logging.Logger):
            logger.handlers = [logging.NullHandler()]
            logger.propagate = False


def _backend(client: Client, trial: str) -> Any:
    """Joblib's backend; but a task that the cluster gave up is an error here, where joblib waits for ever. trial: its name."""
    from joblib._dask import DaskDistributedBackend

    class Backend(DaskDistributedBackend):  # type: ignore[misc]  # joblib has no types
        """Whether joblib hears of failed tasks: yes."""

        def submit(self, func: Any, callback: Callable[[Any], None] | None = None) -> Any:
            """Send a task; the callback hears of its end either way."""
            func.items = [(Admitted(act, trial), *wanted) for act, *wanted in func.items]
            future = super().submit(func, callback)
            if callback is not None:
                future.add_done_callback(lambda done: callback(done.exception()) if done.exception() else None)
            return future

        def retrieve_result_callback(self, out: Any) -> Any:
            """A task's result, or what the cluster says of it, raised."""
            if isinstance(out, BaseException):
                raise ClusterError(
                    f"The cluster gave up on some flights: {out} What has been flown is kept: the same command goes on from "
                    "there, with --cluster or without."
                ) from out
            return super().retrieve_result_callback(out)

    return Backend(client=client)


def _connect(client: type[Client], address: str) -> Client:
    try:
        return client(address, timeout=PATIENCE, set_as_default=False)
    except ValueError as error:
        raise ChoiceError(f"--cluster: found {address!r}, wanted the scheduler's address, as tcp://host:8786") from error


def _compare_workers(client: Client, address: str, trial: Callable[[], bytes]) -> bytes:
    """Every worker flies the trial, which also compiles its kernels; a worker that leaves meanwhile is dropped.

    Returns the trial's result, the same everywhere.
    """
    asked = {worker: _ask(client, worker, trial) for worker in _workers(client)}
    passed: set[str] = set()
    here, until = trial(), time.monotonic() + TRIAL_PATIENCE
    while waiting := _workers(client) - passed:
        for worker in waiting:
            asked[worker] = asked.get(worker) or _ask(client, worker, trial)
            there = _answer(client, worker, asked[worker], until)
            if there is not None and there != here:
                raise ClusterError(f"{worker} {DIFFERS}")
            passed |= {worker} if there is not None else set()
    if not passed:
        raise ClusterError(f"{address} has no workers: start some with `dask worker {address} --nthreads 1`.")
    return here


def _ask(client: Client, worker: str, trial: Callable[[], bytes]) -> Any:
    return client.submit(trial, workers=[worker], pure=False)


def _workers(client: Client) -> set[str]:
    return set(client.scheduler_info(n_workers=-1)["workers"])


def _answer(client: Client, worker: str, asked: Any, until: float) -> bytes | None:
    """The result of a worker's trial; None if it is not there by `until` (clock, s), or the worker has left."""
    try:
        answer: bytes = asked.result(timeout=LOOK_AGAIN)
    except Exception as error:  # whatever goes wrong with other packages there
        silent = isinstance(error, TimeoutError)
        if (silent and asked.status == "pending" and time.monotonic() < until) or worker not in _workers(client):
            return None
        if silent:
            raise ClusterError(
                f"{worker} does not answer: the cluster is too busy, or its scheduler has stopped. Start it again, or fly "
                "without --cluster: the same command goes on."
            ) from error
        raise ClusterError(
            f"{worker} cannot fly: {error}\nInstall the same version of Foilsweep there, and where the scheduler runs."
        ) from error
    return answer
