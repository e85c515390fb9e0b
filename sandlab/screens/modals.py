"""Small questions on top of a screen; each returns a type."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, TypeVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen, Screen
from textual.widgets import Static

from sandlab.errors import Problem
from sandlab.screens.ahead import is_digit
from sandlab.screens.base import KeyLine, Part, key_name, shown_bindings, station, styled
from sandlab.screens.text_field import TextField

Result = TypeVar("Result")

SHOWN = 48
"""So many characters of the keys that wait stand in a line."""


class Panel(ModalScreen[Result]):
    """A box in the middle with a title, its content, and its keys."""

    CSS_PATH = "panels.tcss"
    HEADING: ClassVar[str] = ""
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "Back")]
    takes_keys = False
    ready_at = 0.0

    def on_screen_resume(self) -> None:
        """Take the keys typed while the box opened."""
        self.call_next(station(self).ready, self)
        # The screen behind may still have been at work when the box was drawn.
        self.call_after_refresh(self.refresh)

    def compose(self) -> ComposeResult:
        """Title, content, keys."""
        with Vertical(id="panel"):
            yield Static(self.heading(), id="panel-title")
            yield from self.content()
            yield KeyLine(id="panel-keys")

    def heading(self) -> str:
        """The title."""
        return self.HEADING

    def content(self) -> ComposeResult:
        """What stands between title and keys."""
        yield from ()

    def action_leave(self) -> None:
        """Close without an answer."""
        self.dismiss(None)

    def holds(self, event: events.Key) -> bool:
        """Whether a key is kept from acting on the box; most boxes are opened to be typed in."""
        return False

    def holds_early(self, event: events.Key) -> bool:
        """Keep what was typed of the next values before the box was there; Enter may mean a blank field."""
        here = station(self)
        early = event.time < self.ready_at and (here.aside or is_digit(event) or event.key == "enter")
        if early:
            here.aside.append(event)
        return bool(early)


class ReadFirst(Panel[Result]):
    """A box that nobody asked for: values typed on unseen neither close it nor land where they do not belong.

    They wait, are shown below its title, and are asked about when it is closed.
    """

    def holds(self, event: events.Key) -> bool:
        """What was typed before it was there, a digit, and what follows that, but for the keys of the box."""
        here = station(self)
        mine = event.key != "enter" and event.key in self.active_bindings
        held = self.holds_early(event)
        if not held and not mine and (self.values_wait() or is_digit(event)):
            here.aside.append(event)
            held = True
        self.tell_aside()
        return held

    def values_wait(self) -> bool:
        """Whether values wait; Enter alone, typed before the box was there, was meant for what is done."""
        here = station(self)
        if not any(is_digit(one) for one in here.aside):
            here.aside = []
        return bool(here.aside)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Enter is not offered while it would only wait behind other keys."""
        return action != "go_on" or not any(is_digit(one) for one in station(self).aside)

    def tell_aside(self) -> None:
        """The last of the keys that wait."""
        self.refresh_bindings()
        keys = station(self).aside
        if any(is_digit(one) for one in keys):
            names = key_names(keys)
            words = f"Esc first; waits: {names if len(names) <= SHOWN else '...' + names[-SHOWN:]}"
            shown = self.query("#panel-aside")
            if shown:
                shown.first(Static).update(Content(words))
            else:
                line = Static(Content(words), id="panel-aside")
                self.query_one("#panel").mount(line, after="#panel-title")


class AnswerField(TextField):
    """The line that answers a question."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "screen.enter", "Done")]


class AskText(Panel[str | None]):
    """One line of text; Esc returns None, and an empty line is not taken."""

    def __init__(self, title: str, question: str, *, most: int = 200, value: str = "") -> None:
        super().__init__()
        self.asked = title
        self.question = question
        self.most = most
        self.value = value

    def heading(self) -> str:
        """The title given."""
        return self.asked

    def content(self) -> ComposeResult:
        """The question and the line to type in."""
        yield Static(self.question, id="question", classes="words")
        yield AnswerField(self.value, max_length=self.most, id="answer")

    def action_enter(self) -> None:
        """Take the answer."""
        field = self.query_one("#answer", TextField)
        answer = field.value.strip()
        wrong = self.refused(answer) if answer else "Type an answer, or press Esc."
        if wrong:
            field.value = ""
            self.query_one("#question", Static).update(f"{self.question}\n{wrong}")
        else:
            self.dismiss(answer)

    def refused(self, answer: str) -> str:
        """Why this answer is not taken; empty when it is."""
        return ""


class AskInitials(AskText):
    """Who is here; a number is more likely the next value, typed before the question was seen."""

    def refused(self, answer: str) -> str:
        """Initials have a letter."""
        return "" if any(one.isalpha() for one in answer) else f"'{answer}' has no letter."

    def holds(self, event: events.Key) -> bool:
        """A number typed before the question was there is asked about after it, with all that follows it."""
        begun = bool(self.query_one("#answer", TextField).value)
        return not begun and self.holds_early(event)


class Trouble(ReadFirst[None]):
    """What went wrong: where, what, and what to do, all problems at once."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "go_on", "Back"),
        Binding("escape", "leave", "Back", show=False),
    ]
    HEADING = "This did not work"

    def __init__(self, problems: Sequence[Problem], *, title: str = "") -> None:
        super().__init__()
        self.problems = problems
        self.asked = title or self.HEADING

    def heading(self) -> str:
        """The title given."""
        return self.asked

    def content(self) -> ComposeResult:
        """The problems."""
        yield Static(problem_words(self.problems), classes="words")

    def action_go_on(self) -> None:
        """They are read."""
        self.dismiss(None)


class Confirm(ReadFirst[bool]):
    """One deliberate yes, on a key that is pressed for nothing else here."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f6,plus,add", "agree", "Yes"),
        Binding("escape", "leave", "No, back"),
    ]

    def __init__(self, title: str, problems: Sequence[Problem], question: str) -> None:
        super().__init__()
        self.asked = title
        self.problems = problems
        self.question = question

    def heading(self) -> str:
        """The title given."""
        return self.asked

    def content(self) -> ComposeResult:
        """What is doubtful, and the question."""
        yield Static(problem_words(self.problems), classes="words")
        yield Static(self.question, classes="words")

    def action_agree(self) -> None:
        """Yes."""
        self.dismiss(True)

    def action_leave(self) -> None:
        """No."""
        self.dismiss(False)


CHOICES = "123456789abcdefghijklmnopqrstuvw"
"""The character that chooses each action, for keyboards and terminals without function keys."""


class Keys(Panel[str | None]):
    """Every key of the screen below, each with a character that chooses it; returns its action."""

    HEADING = "Keys"

    def __init__(self, below: Screen[object], decides: str) -> None:
        super().__init__()
        self.decides = decides
        self.offered = dict(zip(CHOICES, shown_bindings(below, everything=True), strict=False))

    def content(self) -> ComposeResult:
        """What the screen decides, its own keys with what they do, those of every screen in pairs."""
        lines: list[Part | str] = []
        pair = 0
        for choice, binding in self.offered.items():
            lines += [f"{choice}  ", (f"{key_name(binding.key):<7}", "bold")]
            if self.is_everywhere(binding):
                lines.append(f"{binding.description:<23}" + ("\n" if pair % 2 else ""))
                pair += 1
            else:
                lines.append(f"{binding.tooltip or binding.description}\n")
        yield Static(self.decides, classes="words")
        yield Static(styled(*lines).rstrip(), classes="words")

    def is_everywhere(self, binding: Binding) -> bool:
        """Whether every screen has this action."""
        return binding.action in {one.action for one in self.app.BINDINGS if isinstance(one, Binding)}

    def on_key(self, event: events.Key) -> None:
        """A character chooses."""
        if event.key in self.offered:
            binding = self.offered[event.key]
            self.dismiss(f"app.{binding.action}" if self.is_everywhere(binding) else binding.action)


def key_names(keys: Sequence[events.Key]) -> str:
    """Keys as they are printed on the keyboard."""
    names = ""
    for one in keys:
        printed = one.character if one.is_printable and one.character and one.character != " " else None
        names += printed or f" {key_name(one.key)} "
    return " ".join(names.split())


def problem_words(problems: Sequence[Problem]) -> str:
    """Problems as lines: where and what, then what to do."""
    lines = []
    for problem in problems[:8]:
        lines.append(f"{problem.where}: {problem.what}.")
        if problem.do:
            stop = "" if problem.do.endswith("?") else "."
            lines.append(f"   {problem.do[:1].upper()}{problem.do[1:]}{stop}")
    if len(problems) > 8:
        lines.append(f"and {len(problems) - 8} more; sandlab check lists them all.")
    return "\n".join(lines)
