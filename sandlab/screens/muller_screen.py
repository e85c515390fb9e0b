"""The operator's screen: the kilograms to set, RUN, CHECK or HOLD and why; read from across the shop."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from sandlab.errors import Problem, SandlabError
from sandlab.lab.batches import log_batch
from sandlab.lab.facts import MullerFacts
from sandlab.lab.muller import acknowledge, muller, override
from sandlab.screens.base import LabScreen, ago, station, styled
from sandlab.screens.board import board
from sandlab.screens.modals import Trouble
from sandlab.screens.override import MadeBatch, OtherKg, Override

if TYPE_CHECKING:
    from sandlab.lab.opening import Lab
    from sandlab.records import Batch

SILENT_AFTER_S = 3.0
NOTED_S = 15.0
"""How long it stands there that a batch was logged."""


class MullerScreen(LabScreen):
    """One screen without navigation."""

    CSS_PATH = "muller.tcss"
    DECIDES = "You decide: have I set these kilograms, or do I run others, and why?"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "f6,enter", "acknowledge", "I have set it", tooltip="Acknowledge: the feeders are set as shown"
        ),
        Binding("f7", "override", "I run other kg", tooltip="Override: other kilograms, with a reason"),
        Binding("f8", "batch", "Log batch", tooltip="Log the kilograms that went into the batch just made"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.facts: MullerFacts | None = None
        self.heard = ""
        self.stopped = ""
        self.noted, self.noted_until = "", datetime.min.replace(tzinfo=UTC)

    def content(self) -> ComposeResult:
        """The board, and a line about the age of the data."""
        yield Static("reading the records", id="board")
        yield Static("", id="age")

    def on_mount(self) -> None:
        """Watch that the data keeps coming, and keep the ages right."""
        self.set_interval(1.0, self.watch_data)
        self.set_interval(20.0, self.tick)

    def tick(self) -> None:
        """Time alone can change RUN to CHECK."""
        if self.is_current and station(self).opened:
            self.reload()

    def reload(self) -> None:
        """The facts anew."""
        station(self).desk.ask(self, muller, self.know, failed=self.unread)

    def unread(self, error: SandlabError) -> None:
        """Whatever the reason, the kilograms shown are no longer known to be in force."""
        self.stopped = self.stopped or self.heard
        super().unread(error)

    def know(self, facts: MullerFacts) -> None:
        """Show them."""
        self.say("")
        self.facts, self.stopped = facts, ""
        self.show()

    def show(self) -> None:
        """Lay the board out for the size there is."""
        if self.facts is None:
            return
        view = self.query_one("#board", Static)
        width, height = view.container_size.width, view.size.height or view.container_size.height - 3
        lines = board(self.facts, self.beside(), width=width, height=height, glyphs=station(self).glyphs)
        view.update(Content("\n").join(styled(*line) for line in lines))
        self.watch_data()

    def beside(self) -> str:
        """Since when, by whom, and whether it is set."""
        facts, here = self.facts, station(self)
        if facts is None or facts.released_at is None:
            return ""
        since = f"{facts.released_at.astimezone(here.zone):%H:%M}"
        answer = "not set yet: F6"
        if facts.overridden_by:
            answer = f"set otherwise by {facts.overridden_by}"
        elif done := facts.acknowledged_at:
            answer = f"set by {facts.acknowledged_by} at {done.astimezone(here.zone):%H:%M}"
        return (
            f"since {since} ({ago(facts.released_at, here.now())}), released by {facts.released_by}; {answer}"
        )

    def watch_data(self) -> None:
        """Say how old the data is; when it stops, say since when."""
        here = station(self)
        line = self.query_one("#age", Static)
        silent = here.desk.silent_s() > SILENT_AFTER_S and here.desk.watching
        if silent:
            self.stopped = self.stopped or self.heard
        line.set_class(bool(self.stopped), "-stopped")
        if self.stopped:
            line.update(f" NO DATA since {self.stopped}: these kg may be out of date. Ask the laboratory.")
            if not silent and self.is_current:
                self.reload()
            return
        self.heard = f"{here.now().astimezone(here.zone):%H:%M:%S}"
        if self.facts is not None:
            tested = ago(self.facts.last_test_at, here.now())
            # In a line of its own the notice would cost the digits a row, and with it their size.
            noted = f" {self.noted}" if here.now() < self.noted_until else ""
            line.update(
                f"{noted} records read {self.heard}; last test {tested}; {self.facts.next_test_words}"
            )

    def on_resize(self, event: events.Resize) -> None:
        """Lay out anew."""
        super().on_resize(event)
        self.call_after_refresh(self.show)

    def action_acknowledge(self) -> None:
        """The feeders are set as shown."""
        if self.facts is None or self.facts.release is None:
            self.say("Nothing is released yet, so there is nothing to acknowledge.")
            return
        if self.facts.acknowledged_at is not None:
            self.say("It is acknowledged already.")
            return
        station(self).with_initials(self.acknowledge)

    def acknowledge(self) -> None:
        """Save the acknowledgement."""
        by, seen = station(self).technician, self.facts.release if self.facts else None

        def work(lab: Lab) -> MullerFacts:
            return acknowledge(lab, by=by, seen=seen)

        station(self).desk.ask(self, work, self.know)

    def action_override(self) -> None:
        """Run other kilograms."""
        if self.facts is None or self.facts.release is None:
            self.say("Nothing is released yet; ask the technician to release additions first.")
            return
        station(self).with_initials(self.ask_override)

    def ask_override(self, before: OtherKg | None = None, refused: Sequence[Problem] = ()) -> None:
        """Ask for the kilograms and the reason; after a refusal what was typed stands there again."""
        if self.facts is None:
            return
        by, seen = station(self).technician, self.facts.release

        def take(other: OtherKg | None) -> None:
            if other is None:
                return

            def work(lab: Lab) -> MullerFacts:
                return override(lab, by=by, added_kg=other.added_kg, reason=other.reason, seen=seen)

            again = partial(self.refused, partial(self.ask_override, other))
            station(self).desk.ask(self, work, self.know, failed=again)

        self.app.push_screen(Override(self.facts.additions, before, refused), take)

    def refused(self, ask: Callable[[Sequence[Problem]], None], error: SandlabError) -> None:
        """Say why, then ask again."""
        self.app.push_screen(Trouble(error.problems), lambda _: ask(error.problems))

    def action_batch(self) -> None:
        """Log the batch just made."""
        if self.facts is None or self.facts.release is None:
            self.say("Nothing is released yet; ask the technician to release additions first.")
            return
        station(self).with_initials(self.ask_batch)

    def ask_batch(self, before: OtherKg | None = None, refused: Sequence[Problem] = ()) -> None:
        """Ask what went in; the kilograms shown are the answer when nothing is typed."""
        if self.facts is None:
            return
        by = station(self).technician

        def take(made: OtherKg | None) -> None:
            if made is None:
                return

            def work(lab: Lab) -> Batch:
                return log_batch(lab, added_kg=made.added_kg, by=by)

            again = partial(self.refused, partial(self.ask_batch, made))
            station(self).desk.ask(self, work, self.logged, failed=again)

        self.app.push_screen(MadeBatch(self.facts.additions, before, refused), take)

    def logged(self, batch: Batch) -> None:
        """Say which batch it was."""
        self.noted = f"Batch {batch.number} is logged."
        self.noted_until = station(self).now() + timedelta(seconds=NOTED_S)
        self.reload()
