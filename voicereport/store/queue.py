"""Work on jobs that waits to be done. A worker holds a task for a lease; one that dies loses it to the next.

A task may so be worked on twice; its outcome counts once, because it is written together with the task's end and only
by whoever holds the lease (`Reports.save_result`). What comes in while a job is at work is put as another task, which
nobody gets before the first is over: no job is worked on by two at a time.
"""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta
from typing import Any, Literal, Protocol, cast

from sqlalchemy import and_, func, or_, select
from sqlalchemy.orm import Session, aliased

from voicereport.store.canonical import maybe_time, moment, storable, time_of
from voicereport.store.database import Database
from voicereport.store.faults import not_found
from voicereport.store.index import settle
from voicereport.store.jobs import job_row
from voicereport.store.models import TaskRow
from voicereport.store.values import SYSTEM, Task, TaskState
from voicereport.store.writing import Writing


class Queue(Protocol):
    """All that the store, the pages and the workers ask of a queue: nobody looks past it.

    Workers of several processes or machines call it at once. Whatever gives the tasks out, each is a row of the store
    too, since `end` is part of the transaction that writes what was made.
    """

    def put(self, job_id: int, *, kind: str = "report", now: datetime, by: str, priority: int = 0,
            due_at: datetime | None = None) -> Task:  # fmt: skip
        """Work to be done on a job. While it waits, the same again gives the same task; while it runs, another one:
        what came in since then is not in the work that runs."""
        ...

    def claim(self, worker: str, *, now: datetime, lease_s: float = 30.0) -> Task | None:
        """The next task, held for `lease_s` seconds; None where there is nothing to do. Never one of a job that
        another task is running on."""
        ...

    def beat(self, task: Task, *, now: datetime, progress: float | None = None, what: str | None = None,
             lease_s: float = 30.0) -> bool:  # fmt: skip
        """Holds a task for longer and tells how far it is; False where it is lost: stop then."""
        ...

    def end(self, writing: Writing, task: Task, *, now: datetime) -> bool:
        """Ends a task within a transaction that writes what was made; False where it is lost: write nothing then."""
        ...

    def finish(self, task: Task, *, now: datetime) -> bool:
        """Ends a task that made nothing; False where it is lost."""
        ...

    def fail(self, task: Task, problem: str, *, now: datetime, retry_at: datetime | None = None) -> bool:
        """Ends a task that could not be done, or puts it back until `retry_at`; False where it is lost."""
        ...

    def task(self, task_id: int) -> Task:
        """A task. Raises StoreError (not_found)."""
        ...

    def of(self, job_id: int) -> tuple[Task, ...]:
        """A job's tasks, newest first."""
        ...

    def open(self) -> tuple[Task, ...]:
        """All tasks that wait or run, in the order in which they go."""
        ...

    def counts(self) -> dict[TaskState, int]:
        """How many tasks are in each state; states without one lack."""
        ...


class DatabaseQueue:
    """The queue in the store's own database: one thing to back up, and a task is put with what it is about."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def put(self, job_id: int, *, kind: str = "report", now: datetime, by: str, priority: int = 0,
            due_at: datetime | None = None) -> Task:  # fmt: skip
        """See Queue. priority: higher goes first. due_at: not before; None = now."""
        with self._database.write() as writing:
            session = writing.session
            job = job_row(session, job_id)
            known = _waiting(session, job_id, kind)
            if known is not None:
                return task_of(known)
            at_work = session.scalar(select(TaskRow.id).where(TaskRow.job_id == job_id, TaskRow.state == "running"))
            row = TaskRow(job_id=job_id, kind=kind, state="waiting", priority=priority, attempt=0, lease="",
                          progress=0.0, what="", put_at=moment(now), due_at=moment(due_at or now))  # fmt: skip
            session.add(row)
            before, job.problem, job.updated_at = job.sealed_state, None, moment(now)
            job.state = "queued" if at_work is None else "working"
            settle(session, job)
            writing.note("job.queued", f"job {job_id}", by=by, now=now, job_id=job_id, before=before, after=kind,
                         rows=[job])  # fmt: skip
            return task_of(row)

    def claim(self, worker: str, *, now: datetime, lease_s: float = 30.0) -> Task | None:
        """See Queue. A running task whose lease ran out is given anew: its worker is taken for dead."""
        other = aliased(TaskRow)
        at_work = select(other.id).where(other.job_id == TaskRow.job_id, other.state == "running").exists()
        waiting = and_(TaskRow.state == "waiting", TaskRow.due_at <= moment(now), ~at_work)
        orphaned = and_(TaskRow.state == "running", TaskRow.lease_until <= moment(now))
        order = (TaskRow.priority.desc(), TaskRow.due_at, TaskRow.id)
        query = select(TaskRow).where(or_(waiting, orphaned)).order_by(*order).limit(1)
        with self._database.read() as session:
            if session.scalar(query) is None:  # looked at without a lock: idle workers keep nobody waiting
                return None
        with self._database.write() as writing:
            row = writing.session.scalar(query)
            if row is None:
                return None
            row.state, row.worker, row.lease = "running", storable(worker)[:200], secrets.token_hex(16)
            row.attempt, row.beat_at, row.problem = row.attempt + 1, moment(now), None
            row.lease_until = moment(now + timedelta(seconds=lease_s))
            job = job_row(writing.session, row.job_id)
            if job.state == "queued":
                job.state, job.updated_at = "working", moment(now)
            return task_of(row)

    def beat(self, task: Task, *, now: datetime, progress: float | None = None, what: str | None = None,
             lease_s: float = 30.0) -> bool:  # fmt: skip
        """See Queue. progress: 0..1, never back."""
        with self._database.write() as writing:
            row = _held(writing.session, task)
            if row is None:
                return False
            row.beat_at, row.lease_until = moment(now), moment(now + timedelta(seconds=lease_s))
            if progress is not None:
                row.progress = max(row.progress, min(1.0, max(0.0, progress)))
            row.what = row.what if what is None else storable(what)
            return True

    def end(self, writing: Writing, task: Task, *, now: datetime) -> bool:
        """See Queue."""
        row = _held(writing.session, task)
        if row is None:
            return False
        row.state, row.done_at, row.progress, row.lease = "done", moment(now), 1.0, ""
        return True

    def finish(self, task: Task, *, now: datetime) -> bool:
        """See Queue. For tasks without a report; one with a report ends by Reports.save_result."""
        with self._database.write() as writing:
            if not self.end(writing, task, now=now):
                return False
            job = job_row(writing.session, task.job_id)
            if job.state not in ("queued", "working"):
                return True
            if state := open_work(writing.session, task.job_id):
                job.state = state
            else:
                before, job.state, job.updated_at = job.sealed_state, "ready" if job.version else "new", moment(now)
                settle(writing.session, job)
                writing.note("job.worked", f"job {job.id}", by=SYSTEM, now=now, job_id=job.id, before=before,
                             after=job.state, rows=[job])  # fmt: skip
            return True

    def fail(self, task: Task, problem: str, *, now: datetime, retry_at: datetime | None = None) -> bool:
        """See Queue. Without `retry_at` the job shows the problem and needs attention.

        Where another task of the job waits, that one is the next try: it has all recordings.
        """
        with self._database.write() as writing:
            row = _held(writing.session, task)
            if row is None:
                return False
            row.problem, row.lease, row.lease_until = storable(problem), "", None
            job = job_row(writing.session, row.job_id)
            if (following := _waiting(writing.session, row.job_id, row.kind)) is not None:
                row.state, row.done_at = "failed", moment(now)
                job.state = "queued" if job.state == "working" else job.state
                if retry_at is not None:
                    following.attempt, following.due_at = row.attempt, max(following.due_at, moment(retry_at))
                return True
            if retry_at is not None:
                row.state, row.due_at, row.worker = "waiting", moment(retry_at), None
                job.state = "queued" if job.state == "working" else job.state
                return True
            row.state, row.done_at = "failed", moment(now)
            before, job.state, job.problem, job.updated_at = job.sealed_state, "failed", row.problem, moment(now)
            settle(writing.session, job)
            writing.note("job.failed", f"job {job.id}", by=SYSTEM, now=now, job_id=job.id, before=before,
                         after="failed", why=row.problem, rows=[job])  # fmt: skip
            return True

    def task(self, task_id: int) -> Task:
        """See Queue."""
        with self._database.read() as session:
            row = session.get(TaskRow, task_id)
            if row is None:
                raise not_found(f"task {task_id}")
            return task_of(row)

    def of(self, job_id: int) -> tuple[Task, ...]:
        """See Queue."""
        query = select(TaskRow).where(TaskRow.job_id == job_id).order_by(TaskRow.id.desc())
        with self._database.read() as session:
            return tuple(map(task_of, session.scalars(query)))

    def open(self) -> tuple[Task, ...]:
        """All tasks that wait or run, in the order in which they go."""
        query = select(TaskRow).where(TaskRow.state.in_(("waiting", "running")))
        with self._database.read() as session:
            ordered = query.order_by(TaskRow.priority.desc(), TaskRow.due_at, TaskRow.id)
            return tuple(map(task_of, session.scalars(ordered)))

    def counts(self) -> dict[TaskState, int]:
        """How many tasks are in each state; states without one lack."""
        with self._database.read() as session:
            rows = session.execute(select(TaskRow.state, func.count()).group_by(TaskRow.state)).all()
            return {cast("TaskState", state): count for state, count in rows}


def open_work(session: Session, job_id: int) -> Literal["working", "queued"] | None:
    """What a job is while work on it is open: "working" where a task runs, "queued" where one waits; None = no work."""
    open_task = select(TaskRow.state).where(TaskRow.job_id == job_id, TaskRow.state.in_(("waiting", "running")))
    states = set(session.scalars(open_task))
    return "working" if "running" in states else "queued" if states else None


def _waiting(session: Session, job_id: int, kind: str) -> TaskRow | None:
    """The task of a kind that waits to work on a job."""
    here = (TaskRow.job_id == job_id, TaskRow.kind == kind, TaskRow.state == "waiting")
    return session.scalar(select(TaskRow).where(*here))


def _held(session: Session, task: Task) -> TaskRow | None:
    """The row of a task, if it is still this claim's."""
    row = session.get(TaskRow, task.id)
    return row if row is not None and row.state == "running" and task.lease and row.lease == task.lease else None


def task_of(row: TaskRow) -> Task:
    """A row as a value."""
    return Task(id=row.id, job_id=row.job_id, kind=row.kind, state=cast("Any", row.state), priority=row.priority,
                attempt=row.attempt, worker=row.worker, lease=row.lease, progress=row.progress, what=row.what,
                problem=row.problem, put_at=time_of(row.put_at), due_at=time_of(row.due_at),
                beat_at=maybe_time(row.beat_at), done_at=maybe_time(row.done_at))  # fmt: skip
