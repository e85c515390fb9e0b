"""The one thread that speaks to the lab: takes jobs, posts their facts, notices changes elsewhere."""

from __future__ import annotations

import gc
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from queue import Empty, SimpleQueue
from threading import Thread
from typing import TYPE_CHECKING, Any, TypeVar, cast

from textual.message import Message

from sandlab.errors import Problem, SandlabError, SpecsError
from sandlab.lab.pausing import collection_paused

if TYPE_CHECKING:
    from textual.app import App
    from textual.message_pump import MessagePump

    from sandlab.lab.opening import Lab
    from sandlab.screens.app import SandlabApp

T = TypeVar("T")
POLL_S = 0.25
Problems = tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class Job:
    """Something to be done with the lab, for whom, and what to call afterwards."""

    who: MessagePump
    work: Callable[[Lab], Any]
    then: Callable[[Any], None]
    failed: Callable[[SandlabError], None] | None


class StoppedError(SandlabError):
    """A person ended long work."""


class Work:
    """Long work beside the lab's thread: the share done, and a wish to end it. Called with the share done."""

    def __init__(self) -> None:
        self.share = 0.0
        self.ended = False

    def end(self) -> None:
        """End it at its next step."""
        self.ended = True

    def __call__(self, share: float) -> None:
        """Keep the share done; raises StoppedError when it is to end."""
        if self.ended:
            raise StoppedError(Problem("work", "was stopped", "nothing has been changed"))
        self.share = share


@contextmanager
def unswept() -> Iterator[None]:
    """Load much that stays: sweeping all of it for garbage again and again costs a fifth of the time."""
    with collection_paused():
        try:
            yield
        finally:
            gc.freeze()


class Answered(Message):
    """A job is done; `facts` is its frozen answer."""

    def __init__(self, job: Job, facts: object) -> None:
        super().__init__()
        self.job = job
        self.facts = facts


class Refused(Message):
    """A job could not be done; the error carries every problem."""

    def __init__(self, job: Job, error: SandlabError) -> None:
        super().__init__()
        self.job = job
        self.error = error


class Changed(Message):
    """Something was saved, here or by another process."""


class Desk:
    """Queue and thread in front of one lab."""

    def __init__(self, folder: Path, system: str | None, clock: Callable[[], datetime] | None) -> None:
        self.folder = folder
        self.system = system
        self.clock = clock
        self.pending = 0
        self.beat = time.monotonic()
        self.crashes: list[BaseException] = []
        self.doubts: Problems = ()
        self._jobs: SimpleQueue[Job | None] = SimpleQueue()
        self._later: deque[Job] = deque()
        self._lab: Lab | None = None
        self._number: int | None = None

    def ask(
        self,
        who: MessagePump,
        work: Callable[[Lab], T],
        then: Callable[[T], None],
        *,
        failed: Callable[[SandlabError], None] | None = None,
    ) -> None:
        """Have `work` done in the lab's thread; `then` gets its answer in the screen's own loop."""
        self.pending += 1
        self._jobs.put(Job(who, work, then, failed))

    def ask_later(
        self,
        who: MessagePump,
        work: Callable[[Lab], T],
        then: Callable[[T], None],
        *,
        failed: Callable[[SandlabError], None] | None = None,
    ) -> None:
        """As `ask`, once nothing else was asked for a moment: nobody waits for it."""
        self.pending += 1
        self._later.append(Job(who, work, then, failed))

    def beside(
        self,
        who: MessagePump,
        work: Callable[[Work], T],
        then: Callable[[T], None],
        *,
        failed: Callable[[SandlabError], None] | None = None,
    ) -> Work:
        """Have long work done in a thread of its own, so that saving never waits for it; gives its progress.

        It must not touch the store. `then` and `failed` are called as by `ask`.
        """
        self.pending += 1
        progress, app = Work(), who.app
        job = Job(who, lambda _: work(progress), then, failed)

        def run() -> None:
            app.post_message(self._tried(job, lambda: work(progress)))

        Thread(target=run, daemon=True).start()
        return progress

    def stop(self) -> None:
        """Let the thread end after the jobs already asked for."""
        self._jobs.put(None)

    @property
    def watching(self) -> bool:
        """Whether the lab is open, so that silence means something."""
        return self._lab is not None

    def silent_s(self) -> float:
        """Seconds since the lab's records could last be read."""
        return time.monotonic() - self.beat

    def serve(self, app: App[Any]) -> None:
        """The thread's work; ends after `stop`."""
        try:
            while True:
                try:
                    job = self._jobs.get(timeout=POLL_S)
                except Empty:
                    self._poll(app)
                    if not self._later:
                        continue
                    job = self._later.popleft()
                if job is None:
                    return
                app.post_message(self._done(job))
                self._tell_doubts(app)
                self._poll(app)
        finally:
            if self._lab is not None:
                self._lab.close()

    def _done(self, job: Job) -> Answered | Refused:
        return self._tried(job, lambda: job.work(self._opened()))

    def _tried(self, job: Job, work: Callable[[], object]) -> Answered | Refused:
        try:
            return Answered(job, work())
        except SandlabError as error:
            return Refused(job, error)
        except Exception as error:  # a person must never meet a traceback
            self.crashes.append(error)
            what = f"{type(error).__name__}: {error}"
            do = "nothing was lost that was saved; try again, and tell the foundry engineer if it stays"
            return Refused(job, SandlabError(Problem("sandlab", what, do)))

    def _opened(self) -> Lab:
        if self._lab is None:
            with unswept():
                from sandlab.lab.opening import open_lab, system_clock

                self._lab = open_lab(self.folder, system=self.system, clock=self.clock or system_clock)
            self.doubts = self._lab.doubts
        return self._lab

    def _tell_doubts(self, app: App[Any]) -> None:
        """Say once that the spec files have mistakes."""
        if self.doubts:
            from sandlab.lab.opening import DOUBTS

            app.call_later(cast("SandlabApp", app).trouble, SpecsError(self.doubts), title=DOUBTS)
            self.doubts = ()

    def _poll(self, app: App[Any]) -> None:
        """Notice what was saved meanwhile; while this fails, `beat` grows old and screens say so."""
        if self._lab is None:
            return
        try:
            number = self._lab.store.change_number()
        except Exception:  # whatever the reason, silence is what the screens show
            return
        self.beat = time.monotonic()
        if self._number is not None and number != self._number:
            app.post_message(Changed())
        self._number = number
