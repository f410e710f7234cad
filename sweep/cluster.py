"""Other computers: a run's flights on the workers of a Dask cluster, through joblib.

A worker is let in only if it flies one short trial to the same bits as this machine, so that results do not tell who flew them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import joblib

from sweep.campaign.problems import ChoiceError

if TYPE_CHECKING:
    from distributed import Client

PATIENCE = 10  # s, to reach the scheduler


class ClusterError(ConnectionError):
    """The cluster cannot be used as it is; says why."""


@contextmanager
def on_cluster(address: str | None, trial: Callable[[], Callable[[], bytes]]) -> Iterator[None]:
    """Within it, joblib's parallel calls that leave the choice open go to the cluster; nothing changes without an address.

    address: of the scheduler, as tcp://host:8786; trial: makes what every worker must
    return to the byte.
    Raises ChoiceError without the extra packages, OSError if nobody answers, ClusterError if workers are missing or differ.
    """
    if address is None:
        yield
        return
    try:
        from distributed import Client
    except ImportError as error:
        raise ChoiceError("--cluster needs more packages: pip install 'foilsweep[cluster]', on every computer.") from error
    with _connect(Client, address) as client:
        _compare_workers(client, address, trial())
        with joblib.parallel_config(backend="dask", client=client):
            yield


def _connect(client: type[Client], address: str) -> Client:
    try:
        return client(address, timeout=PATIENCE, set_as_default=False)
    except ValueError as error:
        raise ChoiceError(f"--cluster: found {address!r}, wanted the scheduler's address, as tcp://host:8786") from error


def _compare_workers(client: Client, address: str, trial: Callable[[], bytes]) -> None:
    """Have every worker fly the trial, which also compiles its kernels."""
    workers = list(client.scheduler_info(n_workers=-1)["workers"])
    if not workers:
        raise ClusterError(f"{address} has no workers: start some with `dask worker {address} --nthreads 1`.")
    asked = {worker: client.submit(trial, workers=[worker], pure=False) for worker in workers}
    here = trial()
    for worker, answer in asked.items():
        try:
            there = answer.result()
        except ImportError as error:
            raise ClusterError(f"{worker} cannot run Foilsweep: {error}. Install the same version there.") from error
        if there != here:
            raise ClusterError(
                f"{worker} does not fly to the same numbers as this machine: it needs the same versions of Foilsweep and "
                "numba, and the same kind of processor."
            )
