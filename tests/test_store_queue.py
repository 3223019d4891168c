"""The queue of work: nothing lost, nothing counted twice."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest
from store_kit import NOW, later, report, with_job

from voicereport.store import Store, StoreError
from voicereport.store.queue import Queue
from voicereport.store.values import Edit, NewJob, Task

pytest_plugins = ["store_fixtures"]


def put(store: Store, **more: object) -> Task:
    job = store.jobs.create(NewJob(technician="tess"), by="tess", now=NOW)
    return store.queue.put(job.id, by="tess", now=NOW, **more)  # type: ignore[arg-type]


def claim(store: Store, worker: str = "w1", seconds: float = 0) -> Task:
    task = store.queue.claim(worker, now=later(seconds))
    assert task is not None
    return task


def test_the_store_s_queue_is_a_queue(store: Store) -> None:
    queue: Queue = store.queue
    assert queue.claim("w1", now=NOW) is None


def test_a_task_is_put_once_while_it_is_open(store: Store) -> None:
    first = put(store)
    assert store.queue.put(first.job_id, by="tess", now=later(5)).id == first.id
    assert store.jobs.get(first.job_id).state == "queued"
    done = claim(store)
    store.reports.save_result(done, report(), by="voicereport", now=NOW, why="heard")
    assert store.queue.put(first.job_id, by="tess", now=later(9)).id != first.id


def test_tasks_go_by_priority_then_by_age(store: Store) -> None:
    late, plain, urgent = put(store, due_at=later(100)), put(store), put(store, priority=5)
    assert [claim(store).id for _ in range(2)] == [urgent.id, plain.id]
    assert store.queue.claim("w1", now=later(29)) is None
    assert claim(store, seconds=29.5 + 100).id == urgent.id  # its lease ran out meanwhile
    assert late.id in {task.id for task in store.queue.open()}


def test_a_result_is_written_with_the_end_of_its_task(store: Store) -> None:
    put(store)
    task = claim(store)
    assert store.jobs.get(task.job_id).state == "working"
    assert store.queue.beat(task, now=later(5), progress=0.4, what="listening")
    assert store.queue.beat(task, now=later(6), progress=0.2)
    assert (store.queue.task(task.id).progress, store.queue.task(task.id).what) == (0.4, "listening")
    stored = store.reports.save_result(task, report(), by="voicereport", now=later(9), why="heard")
    assert stored is not None
    assert (store.queue.task(task.id).state, store.jobs.get(task.job_id).state) == ("done", "ready")
    assert store.queue.counts() == {"done": 1}


def test_twice_is_once(store: Store) -> None:
    put(store)
    slow = claim(store, "w1")
    quick = claim(store, "w2", 31)
    assert (quick.id, quick.attempt) == (slow.id, 2)
    assert store.reports.save_result(slow, report(), by="voicereport", now=later(32), why="heard") is None
    assert store.reports.save_result(quick, report(), by="voicereport", now=later(33), why="heard") is not None
    for task in (slow, quick):
        assert store.reports.save_result(task, report(), by="voicereport", now=later(34), why="heard") is None
        assert not store.queue.beat(task, now=later(35))
        assert not store.queue.finish(task, now=later(35))
        assert not store.queue.fail(task, "x", now=later(35))
    assert store.jobs.get(quick.job_id).version == 1


def test_a_worker_that_beats_keeps_its_task(store: Store) -> None:
    put(store)
    task = claim(store)
    for second in (20, 40, 60):
        assert store.queue.beat(task, now=later(second))
        assert store.queue.claim("w2", now=later(second + 19)) is None
    assert claim(store, "w2", 91).id == task.id


def test_a_failure_is_shown_or_tried_again(store: Store) -> None:
    put(store)
    task = claim(store)
    assert store.queue.fail(task, "the weights are missing", now=NOW, retry_at=later(60))
    assert store.queue.claim("w1", now=later(59)) is None
    again = claim(store, seconds=60)
    assert again.attempt == 2
    assert store.queue.fail(again, "no speech in it", now=later(61))
    job = store.jobs.get(task.job_id)
    assert (job.state, job.problem) == ("failed", "no speech in it")
    store.queue.put(task.job_id, by="otto", now=later(70))
    assert (store.jobs.get(task.job_id).state, store.jobs.get(task.job_id).problem) == ("queued", None)


def test_work_without_a_report_ends_too(store: Store) -> None:
    job_id = with_job(store)
    store.queue.put(job_id, kind="recheck", by="otto", now=NOW)
    task = claim(store)
    assert (task.kind, store.queue.finish(task, now=NOW)) == ("recheck", True)
    assert store.jobs.get(job_id).state == "ready"
    assert [t.state for t in store.queue.of(job_id)] == ["done"]
    with pytest.raises(StoreError):
        store.queue.task(999)


def test_what_is_put_while_a_task_runs_is_another_task_for_afterwards(store: Store) -> None:
    first = put(store)
    task = claim(store)
    second = store.queue.put(first.job_id, by="tess", now=NOW, priority=9)
    assert second.id != first.id
    assert store.queue.put(first.job_id, by="tess", now=NOW).id == second.id  # one waits, whoever asks again
    assert store.jobs.get(first.job_id).state == "working"
    assert store.queue.claim("w2", now=NOW) is None  # two never work on one job, however urgent
    stored = store.reports.save_result(task, report(), by="voicereport", now=NOW, why="heard")
    assert stored is not None
    assert store.jobs.get(first.job_id).state == "queued"
    assert claim(store, "w2").id == second.id
    assert store.trail.verify(derived=True).faults == ()


def test_a_task_of_a_dead_worker_goes_before_what_was_put_since(store: Store) -> None:
    first = put(store)
    claim(store)
    second = store.queue.put(first.job_id, by="tess", now=NOW, priority=9)
    again = claim(store, "w2", 31)
    assert (again.id, again.attempt) == (first.id, 2)
    assert store.queue.finish(again, now=later(32))
    assert store.jobs.get(first.job_id).state == "queued"
    last = claim(store, "w2", 33)
    assert last.id == second.id
    assert store.queue.finish(last, now=later(34))
    assert store.jobs.get(first.job_id).state == "new"  # there was nothing to understand
    assert store.trail.verify(derived=True).faults == ()


@pytest.mark.parametrize("retry", [None, 60])
def test_a_failure_with_another_task_behind_it_is_no_failure_of_the_job(store: Store, retry: int | None) -> None:
    first = put(store)
    task = claim(store)
    second = store.queue.put(first.job_id, by="tess", now=NOW)
    retry_at = None if retry is None else later(retry)
    assert store.queue.fail(task, "out of memory", now=NOW, retry_at=retry_at)
    assert store.jobs.get(first.job_id).state == "queued"
    assert (store.queue.claim("w1", now=later(1)) is None) == (retry is not None)
    following = store.queue.task(second.id) if retry is None else claim(store, seconds=61)
    assert (following.id, following.attempt) == (second.id, 1 if retry is None else 2)
    assert [t.state for t in store.queue.of(first.job_id)] == ["running", "failed"]
    assert store.trail.verify(derived=True).faults == ()


def test_a_result_does_not_go_over_what_people_changed_meanwhile(store: Store) -> None:
    job_id = with_job(store)
    store.queue.put(job_id, by="otto", now=NOW)
    task = claim(store)
    store.reports.edit(job_id, [Edit(kind="add", path="/findings/-", value="worn", why="seen")], expected=1, by="otto",
                       now=NOW)  # fmt: skip
    with pytest.raises(StoreError, match="version 2, not 1") as caught:
        store.reports.save_result(task, report(), by="voicereport", now=NOW, why="heard", expected=1)
    assert caught.value.kind == "conflict"
    assert store.queue.beat(task, now=NOW)  # it goes on: what was made can be made again on top of the change
    assert store.reports.save_result(task, report(), by="voicereport", now=NOW, why="heard", expected=2) is not None
    assert store.trail.verify(derived=True).faults == ()


def test_many_workers_take_each_task_once(store: Store) -> None:
    wanted = {put(store).id for _ in range(24)}
    taken: list[int] = []

    def work(name: str) -> None:
        while task := store.queue.claim(name, now=NOW):
            assert store.reports.save_result(task, report(), by="voicereport", now=NOW, why="heard")
            taken.append(task.id)

    run_all([lambda n=n: work(f"w{n}") for n in range(6)])  # type: ignore[misc]
    assert sorted(taken) == sorted(wanted)
    assert store.trail.verify().faults == ()


def test_many_writers_make_one_chain(store: Store) -> None:
    """Eight at once, as threads of one server; then the numbers are without gaps and nothing waits for ever."""

    def write(name: str) -> None:
        for n in range(5):
            with_job(store, technician="tess")
            store.trail.note("test", f"{name} {n}", by="tess", now=NOW)

    run_all([lambda n=n: write(f"w{n}") for n in range(8)])  # type: ignore[misc]
    found = store.trail.verify(files=True, derived=True)
    assert (found.entries, found.faults) == (5 + 8 * 5 * 4, ())
    assert store.jobs.page().total == 40


def run_all(works: list[Callable[[], None]]) -> None:
    """Runs all at once; raises what any of them raised."""
    raised: list[BaseException] = []

    def guarded(work: Callable[[], None]) -> None:
        try:
            work()
        except BaseException as error:
            raised.append(error)

    threads = [threading.Thread(target=guarded, args=(work,)) for work in works]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if raised:
        raise raised[0]
