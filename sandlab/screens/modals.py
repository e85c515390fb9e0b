"""Small questions on top of a screen; each returns a type."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, TypeVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen, Screen
from textual.widgets import Static

from sandlab.errors import Problem
from sandlab.screens.base import KeyLine, Part, key_name, ready_for_keys, shown_bindings, styled
from sandlab.screens.text_field import TextField

Result = TypeVar("Result")


class Panel(ModalScreen[Result]):
    """A box in the middle with a title, its content, and its keys."""

    CSS_PATH = "panels.tcss"
    HEADING: ClassVar[str] = ""
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "Back")]
    takes_keys = False

    def on_screen_resume(self) -> None:
        """Take the keys typed while the box opened."""
        self.call_next(ready_for_keys, self)
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


class Trouble(Panel[None]):
    """What went wrong: where, what, and what to do, all problems at once."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter,escape", "leave", "Back")]
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


class Confirm(Panel[bool]):
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
