"""The recent samples as on a paper sheet: rows are samples, columns properties; correct or void one value."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta
from functools import partial
from textwrap import wrap
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from sandlab.lab.correcting import remark
from sandlab.lab.facts import ResultFacts, SampleFacts, SheetFacts
from sandlab.lab.rounds import initials, sheet
from sandlab.labels import inside
from sandlab.screens.base import LabScreen, Part, state_parts, station, styled
from sandlab.screens.corrections import Corrections
from sandlab.screens.explaining import Explained
from sandlab.screens.modals import AskText
from sandlab.screens.saved import rows_of

CELL_WIDTH, HEAD_WIDTH = 10, 18
WORDS_MOST = 7


class Sheet(LabScreen):
    """Arrows move over the values."""

    CSS_PATH = "sheet.tcss"
    DECIDES = "You decide: is an earlier value wrong? What was saved before is kept, with who, when and why."
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "back", "Form"),
        Binding("up", "step(-1, 0)", "Newer", show=False),
        Binding("down", "step(1, 0)", "Older", show=False),
        Binding("left", "step(0, -1)", "Left", show=False),
        Binding("right", "step(0, 1)", "Right", show=False),
        Binding(
            "enter,f6", "correct", "Correct", tooltip="Correct the value under the cursor, with a reason"
        ),
        Binding("f7", "void", "Void", tooltip="Take the value back, with a reason"),
        Binding("f8,minus,subtract", "remark", "Remark", tooltip="Put a remark on the value"),
        Binding("plus,add", "repeat", "Repeat", tooltip="Repeat the test: back to its field in the form"),
        Binding("asterisk,multiply", "explain", "Explain", tooltip="How the value came about, computed anew"),
        Binding("pagedown", "day(1)", "Day before", tooltip="A day at a time: yesterday, the day before"),
        Binding("pageup", "day(-1)", "Day after", show=False),
    ]

    def __init__(self, order: Sequence[str], repeat: Callable[[str, str, str], None]) -> None:
        super().__init__()
        self.order = order
        self.repeat = repeat
        self.days: int | None = None
        self.corrections = Corrections(self)
        self.facts: SheetFacts | None = None
        self.columns: list[tuple[str, str]] = []
        self.row = self.column = 0

    def content(self) -> ComposeResult:
        """The grid, and the value under the cursor in words."""
        yield Static("reading the records", id="grid")
        yield Static("", id="words")

    def on_mount(self) -> None:
        """Fetch the samples."""
        self.reload()

    def reload(self) -> None:
        """The samples anew."""
        here = station(self)
        day = None if self.days is None else here.now().astimezone(here.zone).date() - timedelta(self.days)
        here.desk.ask(self, partial(sheet, day=day), self.know, failed=self.unread)

    def know(self, facts: SheetFacts) -> None:
        """Show them; columns stand in the order of the schedule, the cursor stays on its value."""
        kept = self.under_cursor()
        self.facts = facts
        found = {one.property: one.label for sample in facts.samples for one in sample.results}
        known = [name for name in self.order if name in found]
        self.columns = [(name, found[name]) for name in [*known, *sorted(set(found) - set(known))]]
        if kept is None:
            kept_row = self.first_with(self.columns[0][0]) if self.columns else 0
            self.row, self.column = kept_row, 0
        else:
            ids = [sample.sample for sample in facts.samples]
            names = [name for name, _ in self.columns]
            self.row = ids.index(kept[0].sample) if kept[0].sample in ids else 0
            self.column = names.index(kept[1]) if kept[1] in names else 0
        self.show()

    def first_with(self, name: str) -> int:
        """The newest sample in which this property was measured."""
        rows = self.facts.samples if self.facts else ()
        has = (any(one.property == name for one in sample.results) for sample in rows)
        return next((place for place, there in enumerate(has) if there), 0)

    def show(self) -> None:
        """Write the grid and the words."""
        if self.facts is None:
            return
        if not self.facts.samples:
            words = self.facts.words or "No sample is recorded yet. Esc leads back to the form."
            self.query_one("#grid", Static).update(words)
            self.query_one("#words", Static).update("")
            return
        shown = max(1, (self.size.width - HEAD_WIDTH - 1) // CELL_WIDTH)
        first = max(0, min(self.column - shown + 1, len(self.columns) - shown))
        columns = self.columns[first : first + shown]
        told = wrap(self.facts.words, max(20, self.size.width))
        above = len(told)
        timers = station(self).timers
        above += bool(timers is not None and timers.running)
        below = self.words()
        # The words under the grid take three lines, and more only when they need them.
        above += max(0, min(WORDS_MOST, rows_of(below.plain.split("\n"), self.size.width - 2)) - 3)
        room = max(1, self.size.height - 8 - above)
        top = max(0, self.row - room + 1)
        lines = [styled((line, "bold")) for line in told]
        lines += self.heads(columns)
        for place, sample in enumerate(self.facts.samples[top : top + room], start=top):
            lines.append(self.line(sample, columns, place == self.row))
        self.query_one("#grid", Static).update(Content("\n").join(lines))
        self.query_one("#words", Static).update(below)

    def heads(self, columns: list[tuple[str, str]]) -> list[Content]:
        """Names over the columns, in two rows."""
        rows = zip(*(_head(label) for _, label in columns), strict=True)
        starts = ("", f"{'taken':<{HEAD_WIDTH - 4}}by")
        return [
            styled(
                (f"{start:<{HEAD_WIDTH}}" + "".join(f"{name:>{CELL_WIDTH - 2}}  " for name in row), "bold")
            )
            for start, row in zip(starts, rows, strict=True)
        ]

    def line(self, sample: SampleFacts, columns: list[tuple[str, str]], here: bool) -> Content:
        """One sample."""
        local = sample.taken_at.astimezone(station(self).zone)
        parts: list[Part | str] = [f"{local:%a %d %b %H:%M}"[-12:] + " ", f"{initials(sample.by):<5}"]
        results = {one.property: one for one in sample.results}
        for name, _ in columns:
            text, style = self.value(results.get(name))
            chosen = here and name == self.columns[self.column][0]
            parts.append((text, "reverse" if chosen else style))
        return styled(*parts)

    def value(self, result: ResultFacts | None) -> Part:
        """One value with its state's mark; a stroke says it was corrected."""
        if result is None:
            return " " * CELL_WIDTH, ""
        mark, style = state_parts(result.state, station(self).glyphs)
        stroke = "'" if result.revision else " "
        return (
            f"{result.text:>{CELL_WIDTH - 2}}{stroke}{mark[1]}",
            style if result.state != "in_tolerance" else "",
        )

    def under_cursor(self) -> tuple[SampleFacts, str, str, ResultFacts | None] | None:
        """Sample, property, label, result."""
        if self.facts is None or not self.facts.samples or not self.columns:
            return None
        sample = self.facts.samples[self.row]
        name, label = self.columns[self.column]
        return sample, name, label, next((one for one in sample.results if one.property == name), None)

    def words(self) -> Content:
        """The value under the cursor in full."""
        found = self.under_cursor()
        if found is None:
            return Content("")
        sample, name, label, result = found
        local = sample.taken_at.astimezone(station(self).zone)
        parts: list[Part | str] = [(f"{label} of {local:%a %d %b %H:%M} by {sample.by}: ", "bold")]
        if result is None:
            parts.append(f"{sample.changes.get(name, 'not measured')}; Enter adds a late value")
        else:
            notes = [sample.changes[name]] if name in sample.changes else []
            notes += [f"method {result.method.replace('_', ' ')}"] if result.method else []
            notes += result.flags
            parts += [
                f"{result.text} {result.unit}".rstrip(),
                " ",
                state_parts(result.state, station(self).glyphs),
                " ",
                "; ".join(notes),
            ]
        if sample.note:
            parts.append(f"\nNote: {sample.note}")
        said = [one for one in sample.comments if one.property in ("", name)]
        parts += [f"\nRemark by {one.by}: {one.text}" for one in said[-2:]]
        return styled(*parts)

    def on_resize(self, event: events.Resize) -> None:
        """Fit the grid."""
        super().on_resize(event)
        self.call_after_refresh(self.show)

    def action_back(self) -> None:
        """To the form."""
        self.dismiss()

    def action_step(self, down: int, right: int) -> None:
        """Move the cursor."""
        if self.facts and self.facts.samples and self.columns:
            self.row = max(0, min(self.row + down, len(self.facts.samples) - 1))
            self.column = max(0, min(self.column + right, len(self.columns) - 1))
            self.show()

    def action_correct(self) -> None:
        """Ask for the right value, then for the reason."""
        found = self.under_cursor()
        if found is not None:
            self.corrections.correct(*found)

    def show_question(self, title: str, question: str, take: Callable[[str | None], None]) -> None:
        """Put a question on top."""
        self.app.push_screen(AskText(title, question), take)

    def action_day(self, by: int) -> None:
        """Yesterday, then a day back or on; past today come the latest samples again."""
        days = 1 if self.days is None and by > 0 else (self.days or 0) + by
        self.days = days if days >= 0 and not (self.days is None and by < 0) else None
        self.row = self.column = 0
        self.facts = None
        self.reload()

    def action_remark(self) -> None:
        """Put a remark on the value under the cursor."""
        found = self.under_cursor()
        if found is None:
            return
        sample, name, label, _ = found
        here = station(self)

        def take(text: str | None) -> None:
            if text:
                act = partial(remark, sample=sample.sample, property=name, text=text, by=here.technician)
                here.desk.ask(self, act, lambda _: self.reload())

        here.with_initials(
            lambda: self.show_question(f"Remark on {label}", "What is to be known about it?", take)
        )

    def action_explain(self) -> None:
        """How the value came about."""
        found = self.under_cursor()
        if found is None or found[3] is None:
            self.say("There is no value here to explain.")
            return
        self.app.push_screen(Explained(found[0].sample, found[1], found[2]))

    def action_repeat(self) -> None:
        """Back to the form, to test once more."""
        found = self.under_cursor()
        if found is not None:
            sample, name, label, _ = found
            local = sample.taken_at.astimezone(station(self).zone)
            self.dismiss()
            self.repeat(name, sample.point, f"repeat of {inside(label)} of {local:%H:%M}")

    def action_void(self) -> None:
        """Take a value back."""
        found = self.under_cursor()
        if found is None or found[3] is None:
            self.say("There is no value here to take back.")
            return
        self.corrections.void(found[0], found[1], found[2], found[3])


def _head(label: str) -> tuple[str, str]:
    """A name in two rows of a column: its first two words, shortened with a point, or one word parted."""
    words, width = label.replace("-", " ").split(), CELL_WIDTH - 2
    if len(words) > 1:
        first, second = (one if len(one) <= width else f"{one[: width - 1]}." for one in words[:2])
        return first, second
    return ("", label) if len(label) <= width else (f"{label[: width - 1]}-", label[width - 1 :][:width])
