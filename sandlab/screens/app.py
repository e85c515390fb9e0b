"""The terminal tool: three screens over one lab, the keys that lead to them, and who is at the terminal."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime, tzinfo
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType

from sandlab.errors import SandlabError
from sandlab.labels import first_form
from sandlab.screens.ahead import KeysInOrder
from sandlab.screens.base import LabScreen
from sandlab.screens.desk import Answered, Changed, Desk, Refused, StoppedError
from sandlab.screens.look import NIGHT, PALETTES, glyph_choice, theme, theme_choice
from sandlab.screens.modals import AskInitials, Keys, Trouble
from sandlab.screens.others import load_others
from sandlab.screens.tests_screen import TestsScreen

if TYPE_CHECKING:
    from sandlab.lab.facts import DueFacts
    from sandlab.screens.timers import Timers


class SandlabApp(KeysInOrder):
    """One terminal in the foundry."""

    CSS_PATH = Path(__file__).with_name("sandlab.tcss")
    ENABLE_COMMAND_PALETTE = False
    DEFAULT_MODE = "tests"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "f2", "go('tests')", "Tests", show=False, tooltip="Tests: what is due; again: the most urgent set"
        ),
        Binding("f3", "go('charts')", "Charts", show=False, tooltip="Charts: every property and its state"),
        Binding(
            "ctrl+o", "go('balance')", "Balance", show=False, tooltip="Sand balance; also F3 from the charts"
        ),
        Binding("f4", "go('muller')", "Muller", show=False, tooltip="Muller: the additions to set"),
        Binding("f5", "who", "Who", show=False, tooltip="Who is at this terminal: change the initials"),
        Binding("insert,ctrl+r", "timer", "Timer", show=False, tooltip="Timer of a timed test"),
        Binding("question_mark", "keys", "Keys", tooltip="This list of keys"),
        Binding(
            "ctrl+l", "light", "Bright or night", show=False, tooltip="Bright shop or night shift colours"
        ),
        Binding("f9,ctrl+q", "leave", "Quit", tooltip="Leave sandlab"),
    ]

    def __init__(
        self,
        folder: Path,
        *,
        system: str | None = None,
        technician: str = "",
        start: str = "tests",
        clock: Callable[[], datetime] | None = None,
        warm: bool = True,
        glyphs: str = "",
    ) -> None:
        super().__init__()
        for name in PALETTES:
            self.register_theme(theme(name))
        self.theme = theme_choice(os.environ)
        self.glyphs = glyph_choice({**os.environ, "SANDLAB_GLYPHS": glyphs} if glyphs else os.environ)
        self.form_labels = first_form(folder)
        self.plant = self.form_labels.plant
        self.desk = Desk(folder, system, clock)
        self.technician = technician
        self.opened = False
        self.mark = "."
        self.zone: tzinfo = UTC
        self.asked_start = start
        self.warm = warm
        self._clock = clock
        self.timers: Timers | None = None
        self._others_ready = False

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """The colours by role, for themes that do not name them."""
        return NIGHT

    def get_default_screen(self) -> TestsScreen:
        """The first screen; the table of modes would read all styles twice."""
        return TestsScreen()

    def on_ready(self) -> None:
        """The first frame is up: now the rest may be loaded."""
        self.set_class(self.glyphs != "full", "-plain")
        self.call_after_refresh(self.begin)

    def _fatal_error(self) -> None:
        """A fault of the program itself: say it in words, and keep the details in a file."""
        import traceback

        path = self.desk.folder / "fault.txt"
        with suppress(OSError):
            path.write_text(traceback.format_exc(), encoding="utf-8")
        self.panic(
            "sandlab stopped because of a fault of its own; everything saved is kept. Start it again, and "
            f"give {path} to whoever looks after it."
        )

    def begin(self) -> None:
        """Start the lab's thread and fetch what is due."""
        self.run_worker(partial(self.desk.serve, self), thread=True, group="lab", exit_on_error=False)
        # The first screen, even if a key typed early has put a box on top of it.
        first = self.screen_stack[0]
        if isinstance(first, TestsScreen):
            first.open_lab()
        if self.asked_start != "tests":
            self.action_go(self.asked_start)
        elif self.warm:
            self.desk.ask_later(self, load_others, self._add_others)

    def on_answered(self, message: Answered) -> None:
        """Hand facts to whoever asked, if it is still there."""
        self.desk.pending -= 1
        if message.job.who.is_running:
            message.job.then(message.facts)

    def on_refused(self, message: Refused) -> None:
        """Say what went wrong, in the asker's own way or in a box."""
        self.desk.pending -= 1
        if message.job.failed is not None and message.job.who.is_running:
            message.job.failed(message.error)
        elif not isinstance(message.error, StoppedError):
            self.trouble(message.error)

    def on_changed(self, _message: Changed) -> None:
        """Records changed, here or elsewhere: the main screen in view fetches its facts anew."""
        for screen in self.screen_stack:
            if isinstance(screen, LabScreen):
                screen.reload()

    def trouble(self, error: SandlabError, *, title: str = "") -> None:
        """Show every problem in a box."""
        self.push_screen(Trouble(error.problems, title=title))

    def opened_as(self, facts: DueFacts) -> None:
        """The lab answers: take the plant's name, decimal mark and time zone from it."""
        from zoneinfo import ZoneInfo

        self.opened, self.plant, self.mark = True, facts.plant, facts.decimal_mark
        self.zone = ZoneInfo(facts.time_zone)

    def now(self) -> datetime:
        """The present time, UTC."""
        return self._clock() if self._clock else datetime.now(UTC)

    def clock_text(self) -> str:
        """The time of day at the plant; blank until its time zone is known."""
        return f"{self.now().astimezone(self.zone):%H:%M}" if self.opened else "  :  "

    def action_go(self, mode: str) -> None:
        """Show one of the three screens; the two others are loaded in the lab's thread first."""
        tests = self.screen
        if mode == "charts" and self.current_mode == "charts":
            mode = "balance"
        if mode == "tests" and isinstance(tests, TestsScreen):
            (tests.start_due if self.opened else tests.open_lab)()
        elif mode == "tests" or self._others_ready:
            self.switch_mode(mode)
        else:
            self.desk.ask(self, load_others, partial(self._add_others, mode=mode))

    def _add_others(self, _done: bool, mode: str = "") -> None:
        if not self._others_ready:
            self.add_mode("tests", TestsScreen)
            from sandlab.screens.balance_screen import BalanceScreen
            from sandlab.screens.charts_screen import ChartsScreen
            from sandlab.screens.muller_screen import MullerScreen

            self.add_mode("balance", BalanceScreen)
            self.add_mode("charts", ChartsScreen)
            self.add_mode("muller", MullerScreen)
            self._others_ready = True
        if mode:
            self.switch_mode(mode)

    def with_initials(self, then: Callable[[], None]) -> None:
        """Do something that needs a name: at once, or after asking who is here."""
        if self.technician:
            then()
        else:
            self._ask_who(then)

    def action_who(self) -> None:
        """Change who is at the terminal; the tests screen has the notes of the shift before for them."""
        self._ask_who(getattr(self.screen, "new_person", lambda: None))

    def _ask_who(self, then: Callable[[], None]) -> None:
        def take(initials: str | None) -> None:
            if initials:
                self.technician = initials.upper()
                for screen in self.screen_stack:
                    if isinstance(screen, LabScreen):
                        screen.show_top()
                then()

        question = (
            "Your initials. They stand beside everything saved from this terminal until the next change."
        )
        self.push_screen(AskInitials("Who is at this terminal?", question, most=8, value=""), take)

    def action_timer(self) -> None:
        """Start, stop or answer the timer of a timed test."""
        from sandlab.screens.timers import timer_key

        timer_key(self)

    def action_keys(self) -> None:
        """List the keys of the screen in view; one can be chosen by digit."""
        screen = self.screen

        def act(action: str | None) -> None:
            if action:
                self.call_later(self.run_action, action, screen)

        decides = screen.DECIDES if isinstance(screen, LabScreen) else ""
        self.push_screen(Keys(screen, decides), act)

    def action_light(self) -> None:
        """Change between the two themes."""
        self.theme = "bright" if self.theme == "night" else "night"

    def action_leave(self) -> None:
        """Quit; ask first when something is half typed."""
        tests = self._screen_stacks["tests"][0]
        if isinstance(tests, TestsScreen) and tests.forms.half_typed():
            tests.ask_leave(lambda: self.exit(0))
        else:
            self.exit(0)

    def on_unmount(self) -> None:
        """Let the lab's thread end."""
        self.desk.stop()


def run(folder: Path, *, system: str | None = None, technician: str = "", start: str = "tests") -> int:
    """Open the tool on a plant folder; returns the exit code."""
    app = SandlabApp(folder, system=system, technician=technician, start=start)
    return app.run() or 0
