"""Timers of timed tests: started with one key, seen from every screen, ringing in words and with the bell."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.timer import Timer as Ticker
from textual.widgets import Static

from sandlab.errors import SandlabError
from sandlab.lab.timing import KeptTime, KeptTimer, KeptTimers, keep_timers
from sandlab.labels import inside
from sandlab.screens.base import LabScreen, Part, ago, station, styled
from sandlab.screens.modals import Panel

if TYPE_CHECKING:
    from textual.widget import Widget

    from sandlab.lab.facts import FieldFacts
    from sandlab.screens.app import SandlabApp
    from sandlab.screens.form import SetForm

BELL_EVERY = timedelta(seconds=20)
"""The bell comes again until somebody answers."""

MOST = 9
"""So many can be chosen by a digit."""


@dataclass(frozen=True, slots=True)
class Task:
    """What can be timed: of which property, and for how long; without `seconds` a key stops it."""

    property: str
    label: str
    what: str
    seconds: int | None
    reading: str = ""

    def words(self) -> str:
        """What and for how long."""
        span = f", {clock(self.seconds)}" if self.seconds else ", stopped with the same key"
        return f"{self.what}, {inside(self.label)}{span}"


@dataclass
class Running:
    """A task under way, and when the bell last rang for it."""

    task: Task
    started: datetime
    rang: datetime | None = None

    def left_s(self, now: datetime) -> float:
        """Seconds left; below zero it is over, and a stopped one has none left to count."""
        return (self.task.seconds or 0) - (now - self.started).total_seconds()

    def over(self, now: datetime) -> bool:
        """Whether the time is up."""
        return self.task.seconds is not None and self.left_s(now) <= 0


class Timers:
    """All timers of this terminal."""

    def __init__(self, app: SandlabApp) -> None:
        self.app = app
        self.running: list[Running] = []
        self.stopped: dict[tuple[str, str], KeptTime] = {}
        self._ticker: Ticker | None = None

    def start(self, task: Task) -> None:
        """Let a time run."""
        self.running.append(Running(task, self.app.now()))
        self._run()

    def resume(self, kept: KeptTimers) -> None:
        """Go on with what ran before a crash or the last end."""
        for one in kept.running:
            task = Task(one.property, one.label, one.what, one.seconds, one.reading)
            self.running.append(Running(task, one.started))
        self.stopped |= {(one.property, one.reading): one for one in kept.stopped}
        self._run()

    def _run(self) -> None:
        if self._ticker is None and self.running:
            self._ticker = self.app.set_interval(0.5, self.tick)
        self.keep()
        self.show()

    def keep(self) -> None:
        """Have the lab write down what runs, so that it outlives this terminal."""
        running = tuple(KeptTimer(**asdict(one.task), started=one.started) for one in self.running)
        kept = KeptTimers(running=running, stopped=tuple(self.stopped.values()))
        work = partial(keep_timers, kept=kept)
        self.app.desk.ask(self.app, work, lambda _: None, failed=self.not_kept)

    def not_kept(self, error: SandlabError) -> None:
        """They run on, but a crash would end them: say so without a box."""
        for screen in self.app.screen_stack:
            if isinstance(screen, LabScreen):
                screen.say(str(error.problems[0]))

    def take(self, property: str, reading: str) -> float:
        """A stopped time goes into its reading [s]."""
        taken = self.stopped.pop((property, reading))
        self.keep()
        return taken.seconds

    def drop(self, one: Running) -> None:
        """Take a timer away; a stopped time is kept for its reading."""
        if one.task.seconds is None:
            key, now = (one.task.property, one.task.reading), self.app.now()
            elapsed = (now - one.started).total_seconds()
            self.stopped[key] = KeptTime(property=key[0], reading=key[1], seconds=elapsed, at=now)
        self.running.remove(one)
        if not self.running and self._ticker is not None:
            self._ticker.stop()
            self._ticker = None
        self.keep()
        self.show()

    def tick(self) -> None:
        """Ring for what is over, and write the seconds."""
        now = self.app.now()
        for one in self.running:
            if one.over(now) and (one.rang is None or now - one.rang >= BELL_EVERY):
                one.rang = now
                self.app.bell()
        self.show()

    def show(self) -> None:
        """Every screen in view writes its line."""
        for screen in self.app.screen_stack:
            if isinstance(screen, LabScreen):
                screen.show_timers()

    def parts(self) -> list[Part | str]:
        """What is over first, then what runs, the shortest rest first."""
        now = self.app.now()
        order = sorted(self.running, key=lambda one: one.left_s(now) if one.task.seconds else float("inf"))
        parts: list[Part | str] = []
        for one in order:
            name = f"{one.task.what}, {inside(one.task.label)}"
            if one.over(now):
                ended = one.started + timedelta(seconds=one.task.seconds or 0)
                parts.append((f" TIME IS UP: {name}, {ago(ended, now)} ", "$ground on $alarm"))
                parts.append(" Ins answers ")
            elif one.task.seconds:
                parts.append(f" {name}: {clock(one.left_s(now))} left ")
            else:
                parts.append(f" {name}: {clock(-one.left_s(now))}, Ins stops ")
        return parts

    def key(self, offered: Sequence[Task], stop: Callable[[Task], None]) -> None:
        """The timer key: answers what rings, stops what is being stopped, else starts what is offered."""
        now = self.app.now()
        rings = [one for one in self.running if one.over(now)]
        stops = [one for one in self.running if one.task.seconds is None]
        if rings or stops:
            for one in rings or stops:
                self.drop(one)
                if not rings:
                    stop(one.task)
            return
        busy = {(one.task.property, one.task.what) for one in self.running}
        fresh = [one for one in offered if (one.property, one.what) not in busy]
        if len(fresh) == 1 and len(offered) == 1:
            self.start(fresh[0])
        else:
            self.app.push_screen(TimerChoice(fresh[:MOST], self.running, now), self._chosen)

    def _chosen(self, chosen: Task | Running | None) -> None:
        if isinstance(chosen, Task):
            self.start(chosen)
        elif isinstance(chosen, Running) and chosen in self.running:
            self.drop(chosen)


class TimerChoice(Panel["Task | Running | None"]):
    """Several times could be started, or some run: a digit chooses."""

    HEADING = "Timers"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter,escape,insert", "leave", "Back")]

    def __init__(self, offered: Sequence[Task], running: Sequence[Running], now: datetime) -> None:
        super().__init__()
        both: list[Task | Running] = [*offered, *running]
        self.choices = both[:MOST]
        self.now = now

    def content(self) -> ComposeResult:
        """A line for each choice."""
        lines = []
        for number, one in enumerate(self.choices, start=1):
            if isinstance(one, Task):
                lines.append(f"{number}  start {one.words()}")
            else:
                lines.append(f"{number}  take away {one.task.words()}; {clock(one.left_s(self.now))} left")
        words = "\n".join(lines) or "Nothing here is timed by its method, and no timer runs."
        yield Static(words, classes="words")

    def on_key(self, event: events.Key) -> None:
        """A digit chooses."""
        if event.character and event.character.isdigit() and 1 <= int(event.character) <= len(self.choices):
            event.stop()
            self.dismiss(self.choices[int(event.character) - 1])


def clock(seconds: float) -> str:
    """A length of time as minutes and seconds, with hours when there are any."""
    whole = max(0, round(seconds))
    minutes, rest = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def timer_key(app: SandlabApp) -> None:
    """The timer key, with what the screen in view offers to time."""
    app.timers = app.timers or Timers(app)
    offers = getattr(app.screen, "timed_here", None)
    stopped = getattr(app.screen, "time_stopped", None)
    app.timers.key(offers() if offers else (), stopped or (lambda _task: None))


def resume(app: SandlabApp, kept: KeptTimers) -> None:
    """Go on with timers that were taken up."""
    app.timers = app.timers or Timers(app)
    app.timers.resume(kept)


def tasks_of(fields: Sequence[FieldFacts]) -> list[Task]:
    """Everything that the methods of some properties time, each once."""
    found = {
        (one.property, timed.label, timed.seconds): Task(
            one.property, one.label, timed.label, timed.seconds, timed.reading
        )
        for one in fields
        for method in one.methods
        for timed in method.timed
    }
    return list(found.values())


def form_tasks(form: SetForm, focused: Widget | None) -> list[Task]:
    """What the focused field's methods time, else all that the form's methods do."""
    field = form.field_of(focused)
    own = tasks_of([field.facts]) if field is not None and field.facts is not None else []
    return own or tasks_of([one.facts for one in form.fields if one.facts is not None])


def line(screen: LabScreen) -> None:
    """Write the line of timers under the bar, or take it away."""
    timers = station(screen).timers
    shown = screen.query("#timers")
    if timers is None or (not timers.running and not shown):
        return
    strip = shown.first(Static) if shown else Static(id="timers")
    if not shown:
        screen.mount(strip, after="#top")
    strip.update(styled(*timers.parts()))
    if strip.display != bool(timers.running) or not shown:
        strip.display = bool(timers.running)
        fit = getattr(screen, "show_due", None)
        if fit is not None:
            screen.call_after_refresh(fit)
