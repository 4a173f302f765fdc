"""Processes that die take only their own task along."""

import os
from dataclasses import replace

from terrain.job.batch import Outcome, Status, Task
from terrain.job.pool import outcomes_in_pool

TASKS = tuple(
    Task(job=f"/{name}.toml", name=name, question="volumes", folder=None)
    for name in ("a", "b", "deadly", "c", "d")
)


def deadly_work(task: Task) -> Outcome:
    if task.name == "deadly":
        os._exit(9)
    return Outcome(name=task.name, status=Status.DONE, figures={"process": os.getpid()})


def test_a_task_that_kills_its_worker_twice_is_failed_and_all_others_are_done() -> None:
    found = {one.name: one for one in outcomes_in_pool(TASKS, deadly_work, 2)}
    assert set(found) == {task.name for task in TASKS}
    assert found["deadly"].status is Status.FAILED
    assert "was ended twice" in found["deadly"].message
    assert all(one.status is Status.DONE for name, one in found.items() if name != "deadly")


def test_work_is_done_in_other_processes_and_no_task_twice() -> None:
    tasks = tuple(replace(task, name=task.name.upper()) for task in TASKS)
    found = list(outcomes_in_pool(tasks, deadly_work, 2))
    assert sorted(one.name for one in found) == sorted(task.name for task in tasks)
    assert os.getpid() not in {one.figures["process"] for one in found}
