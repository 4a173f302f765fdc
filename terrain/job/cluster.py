"""Work on many tasks on a Dask cluster that is there already, found by the scheduler's address.

The workers need this program installed and the same paths to the jobs, as on a shared disk.
"""

import asyncio
import contextlib
import logging
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError
from typing import TYPE_CHECKING, Any

from terrain.base.errors import JobError
from terrain.job.batch import Outcome, Status, Task

if TYPE_CHECKING:
    from distributed import Client, Future

ANSWER_WITHIN = 10.0
"""Seconds that a scheduler is given to answer, and to have a worker."""
LOOK_EVERY = 5.0
"""Seconds without news after which the scheduler is asked whether it is still there."""


def outcomes_on_cluster(
    tasks: tuple[Task, ...], work: Callable[[Task], Outcome], address: str
) -> Iterator[Outcome]:
    """What became of each task, as they get done; a lost worker's task goes to another.

    Raises:
        JobError: dask.distributed isn't installed, no scheduler answers at the address, it has no
            workers, or it went away before all was done.
    """
    client = _connected(address)
    try:
        waiting = {client.submit(work, task, pure=False): task for task in tasks}
        while waiting:
            done = _some_done(client, list(waiting), address)
            for future in done:
                yield _outcome_of(future, waiting.pop(future))
    finally:
        client.close(timeout=1.0)


def _connected(address: str) -> "Client":
    try:
        from distributed import Client
    except ImportError:
        message = 'a cluster needs dask.distributed: pip install "spoilbank[cluster]"'
        raise JobError(message) from None
    for name in logging.getLogger("distributed").manager.loggerDict:
        if name.startswith("distributed"):
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)  # what goes wrong is told here
    try:
        client = Client(address, timeout=ANSWER_WITHIN)
    except (OSError, ValueError, TypeError) as error:  # TimeoutError is an OSError
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        message = f"no cluster answers at {address} within {ANSWER_WITHIN:g} s ({reason}); "
        raise JobError(message + "check the scheduler's address and that it runs") from None
    try:
        client.wait_for_workers(1, timeout=ANSWER_WITHIN)
    except OSError:
        client.close(timeout=1.0)
        message = f"the cluster at {address} has no workers; start at least one"
        raise JobError(message) from None
    return client


def _some_done(
    client: "Client", waiting: list["Future[Outcome]"], address: str
) -> list["Future[Outcome]"]:
    """Those of the futures that are settled; waits for the first, asking after the scheduler."""
    from distributed import wait

    gone = (
        f"the cluster at {address} no longer answers; what it has done is kept, "
        "start the batch again for the rest"
    )
    while True:
        with contextlib.suppress(TimeoutError, CancelledError, asyncio.CancelledError):
            wait(waiting, timeout=LOOK_EVERY, return_when="FIRST_COMPLETED")
        done = [future for future in waiting if future.done()]
        # a client that lost its scheduler gives up all that was asked through it
        if client.status != "running" or any(future.cancelled() for future in done):
            raise JobError(gone)
        if done:
            return done


def _outcome_of(future: "Future[Outcome]", task: Task) -> Outcome:
    error: Any = None
    try:
        outcome: Outcome = future.result()
        return outcome
    except Exception as raised:
        # Of any kind: `result` raises again whatever a worker raised, or could not load without
        # this program, or what broke on the way, as when the answer's worker is gone.
        error = raised
    said = f"{type(error).__name__}: {error}".splitlines()[0][:300]
    message = f"no worker of the cluster could do it ({said})"
    return Outcome(name=task.name, status=Status.FAILED, message=message)
