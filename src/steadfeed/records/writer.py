"""The group commit: many small appends, one sync of the disk, and no acknowledgement before it."""

from __future__ import annotations

import queue
import threading
from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from steadfeed.errors import SteadfeedError, TryAgain
from steadfeed.records.readings import KeyCache, RawReading, Receipt, append_all, receipt

if TYPE_CHECKING:
    from steadfeed.records.store import Store

#: Readings that one transaction takes at most: a bound on how long an acknowledgement can take.
LARGEST_BATCH: Final = 5_000
#: Appends that may wait; whoever comes later waits until there is room.
LONGEST_QUEUE: Final = 10_000


@dataclass(slots=True)
class _Job:
    challenge_id: str
    readings: Sequence[RawReading]
    received_at: float
    done: Future[Receipt] = field(default_factory=Future)


class GroupWriter:
    """Writes readings of any number of callers, a transaction at a time.

    While one transaction is being synced to the disk the next appends gather; they go together. A future is resolved
    only after the commit returned: then the readings are on the disk. When a commit fails, each of its appends fails
    with the same error and nothing of it is kept; sending it again is safe.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._jobs: queue.Queue[_Job | None] = queue.Queue(LONGEST_QUEUE)
        self._cache = KeyCache()
        self._closed = False
        self._thread = threading.Thread(target=self._run, name="steadfeed-writer", daemon=True)
        self._thread.start()

    def append(self, challenge_id: str, readings: Sequence[RawReading], received_at: float) -> Future[Receipt]:
        """Hand readings over; the future gives the receipt once they are durable. received_at [s since the epoch]."""
        if self._closed:
            raise TryAgain("The recorder is closed; open the store again", code="recorder closed")
        job = _Job(challenge_id, tuple(readings), received_at)
        self._jobs.put(job)
        return job.done

    def close(self) -> None:
        """Write what is waiting, then stop."""
        if not self._closed:
            self._closed = True
            self._jobs.put(None)
            self._thread.join()

    def __enter__(self) -> GroupWriter:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _run(self) -> None:
        last = False
        while not last:
            first = self._jobs.get()
            if first is None:
                return
            jobs, count = [first], len(first.readings)
            while count < LARGEST_BATCH:
                try:
                    job = self._jobs.get_nowait()
                except queue.Empty:
                    break
                if job is None:
                    last = True
                    break
                jobs.append(job)
                count += len(job.readings)
            self._commit(jobs)

    def _commit(self, jobs: list[_Job]) -> None:
        """Write jobs in one transaction; when that fails for a reason of one of them, each on its own."""
        receipts = self._attempt(jobs)
        if isinstance(receipts, SteadfeedError) and not isinstance(receipts, TryAgain) and len(jobs) > 1:
            for job in jobs:
                _answer([job], self._attempt([job]))
        else:
            _answer(jobs, receipts)

    def _attempt(self, jobs: list[_Job]) -> list[Receipt] | BaseException:
        items = [(j.challenge_id, r, j.received_at) for j in jobs for r in j.readings]
        kept = False
        try:
            with self._store.writing() as t:
                outcome = append_all(t, items, max(j.received_at for j in jobs), self._cache)
            kept = True
        except Exception as error:
            return error
        finally:
            self._cache.committed(kept)
        receipts, at = [], 0
        for job in jobs:
            receipts.append(receipt(outcome[at : at + len(job.readings)]))
            at += len(job.readings)
        return receipts


def _answer(jobs: list[_Job], outcome: list[Receipt] | BaseException) -> None:
    for at, job in enumerate(jobs):
        if isinstance(outcome, BaseException):
            job.done.set_exception(outcome)
        else:
            job.done.set_result(outcome[at])
