"""Work that may take long, done beside the loop: one thread, a short queue, nothing that the loop waits for."""

import queue
import threading
from collections.abc import Callable
from contextlib import suppress

Work = Callable[[], str]
"""Does one thing and returns what the record should hear of it; empty: nothing."""

QUEUE = 16
"""So many jobs may wait; what comes then is dropped and said."""


class Aside:
    """Does one job after the other, in order."""

    def __init__(self, name: str) -> None:
        """`name` is the thread's."""
        self._name = name
        self._jobs: queue.Queue[Work | None] = queue.Queue(QUEUE)
        self._said: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None
        self._leave = threading.Event()

    def leaving(self) -> bool:
        """Whether a job that takes long has to end now."""
        return self._leave.is_set()

    def do(self, work: Work) -> bool:
        """Queue a job; False where too many wait already. Never blocks."""
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name=self._name, daemon=True)
            self._thread.start()
        try:
            self._jobs.put_nowait(work)
        except queue.Full:
            return False
        return True

    def said(self) -> list[str]:
        """Return what the jobs that are done have to say. Never blocks."""
        found = []
        with suppress(queue.Empty):
            while True:
                found.append(self._said.get_nowait())
        return found

    def close(self, wait_s: float) -> None:
        """Let what waits be done for at most `wait_s`; then the job at hand is asked to end, the rest is left out."""
        if self._thread is None:
            return
        with suppress(queue.Full):
            self._jobs.put(None, timeout=wait_s)
        self._thread.join(wait_s)
        self._leave.set()
        self._thread.join(1.0)

    def _run(self) -> None:
        while (work := self._jobs.get()) is not None and not self.leaving():
            try:
                said = work()
            except Exception as error:  # a fault in here is told like any other news: the hold goes on
                said = f"{self._name}: {type(error).__name__}: {error}"
            if said:
                self._said.put(said)
