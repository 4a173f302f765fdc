"""Work on many tasks in processes of this machine; a worker that dies takes only its task along."""

import os
import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import connection, get_context, parent_process

from terrain.job.batch import Outcome, Status, Task

Work = Callable[[Task], Outcome]

DIED = (
    "the process that worked on it was ended twice, by a lack of memory perhaps; "
    "try it alone, or with fewer workers"
)


def outcomes_in_pool(tasks: tuple[Task, ...], work: Work, workers: int) -> Iterator[Outcome]:
    """What became of each task, as they get done.

    If a worker dies every task then under way is a suspect: the others go on in new workers, and
    the suspects are tried once more, one at a time, at the end.
    """
    left, suspects = deque(tasks), deque[Task]()
    while left:
        yield from _until_one_dies(left, suspects, work, workers)
    for task in suspects:
        left, again = deque([task]), deque[Task]()
        yield from _until_one_dies(left, again, work, 1)
        if again:
            yield Outcome(name=task.name, status=Status.FAILED, message=DIED)


def _until_one_dies(
    left: deque[Task], suspects: deque[Task], work: Work, workers: int
) -> Iterator[Outcome]:
    """Outcomes of the tasks in `left`, until all are done or a worker has died."""
    flying: dict[Future[Outcome], Task] = {}
    pool = ProcessPoolExecutor(
        min(workers, len(left)), mp_context=get_context("spawn"), initializer=_leave_with_parent
    )
    try:
        while left or flying:
            while left and len(flying) < workers:
                begun = pool.submit(work, left[0])  # where a worker has died this raises
                flying[begun] = left.popleft()
            for done in wait(flying, return_when=FIRST_COMPLETED).done:
                outcome = done.result()
                del flying[done]
                yield outcome
    except BrokenProcessPool:
        suspects.extend(flying.values())
    finally:
        pool.shutdown(cancel_futures=True)


def _leave_with_parent() -> None:
    """End this worker when the batch is killed, which else would leave it waiting for ever."""
    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        connection.wait([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
