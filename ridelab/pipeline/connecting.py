"""The way to a Dask scheduler, and what can be wrong with it, in words."""

from __future__ import annotations

import logging
import re
import warnings
from typing import TYPE_CHECKING

from ridelab.errors import ClusterError, NotAccepted, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable

    from distributed import Client

#: How long a scheduler may take to answer, and a cluster to have its first worker.
_PATIENCE_S = 5.0
_ADDRESS = re.compile(r"(tcp|tls)://(\[[0-9a-fA-F:.]+\]|[^\s/:@?#\[\]]+):\d{1,5}")


def connected(address: str) -> Client:
    """Connect to a scheduler that has workers.

    Raises:
        UsageError: no address of a scheduler, or the extra is not installed.
        ClusterError: nothing answers there, or it has no worker.
    """
    if not _ADDRESS.fullmatch(address):
        accepted = "the address that `dask scheduler` prints, such as tcp://host:8786, or tls://…"
        raise NotAccepted(repr(address), accepted, "--scheduler")
    try:
        from distributed import Client
    except ImportError as error:
        raise UsageError(
            "--scheduler needs what `pip install 'ridelab[cluster]'` installs"
        ) from error
    _silence("distributed")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of versions, which are looked at below
            client = Client(address, timeout=_PATIENCE_S, set_as_default=False)
    except (OSError, RuntimeError, TypeError, ValueError) as error:
        raise ClusterError(
            f"no scheduler answers at {address} within {_PATIENCE_S:.0f} s; `dask scheduler` "
            "starts one and prints its address"
        ) from error
    try:
        client.wait_for_workers(1, timeout=_PATIENCE_S)
    except TimeoutError as error:
        client.close()
        raise ClusterError(
            f"the scheduler at {address} has no worker; on each machine: "
            f"dask worker {address} --nworkers -1 --nthreads 1"
        ) from error
    return client


def _silence(library: str) -> None:
    """Keep a library from writing to stderr: what it has to say is said here, in our words.

    It gives levels and handlers to several of its loggers, so each is told.
    """
    for name in [library, *logging.root.manager.loggerDict]:
        if name.partition(".")[0] == library:
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)


def ask_all(
    client: Client, address: str, question: Callable[..., str], *facts: object
) -> dict[str, str]:
    """Ask all workers; return what each says, by its address.

    Raises:
        ClusterError: the scheduler went away.
    """
    try:
        answers = client.run(question, *facts, on_error="return")
    except OSError as error:
        raise gone(address) from error
    return {worker: _said(answer) for worker, answer in answers.items()}


def gone(address: str) -> ClusterError:
    """Say that a scheduler is not there any more."""
    return ClusterError(
        f"the scheduler at {address} went away; what was stored stays stored, and the next run "
        "goes on from there"
    )


def _said(answer: object) -> str:
    """Return what a worker says; an error comes of one that cannot even load the question."""
    if isinstance(answer, OSError):
        return ""  # it has just gone
    return answer if isinstance(answer, str) else f"cannot load ridelab: {answer}"
