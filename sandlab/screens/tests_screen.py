"""The technician's screen: what is due, the form to log it, and what follows from a saved sample."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.widgets import Input, Static

from sandlab.errors import NeedsConfirmation, Problem, SandlabError
from sandlab.labels import FieldLabel
from sandlab.screens.base import LabScreen, Part, state_parts, station, styled
from sandlab.screens.detail import detail_words
from sandlab.screens.fields import ValueInput
from sandlab.screens.form import SaveLine, SetForm, taken_at
from sandlab.screens.modals import Confirm

if TYPE_CHECKING:
    from sandlab.lab.entry import Entry
    from sandlab.lab.facts import DueFacts, DueSetFacts, FieldFacts, JudgementFacts, SavedFacts
    from sandlab.lab.opening import Lab

ANY = "any"
"""The form with every property, for a sample outside the schedule."""


class TestsScreen(LabScreen):
    """Due sets above, the form in the middle, the focused field in detail below."""

    __test__ = False
    DECIDES = "You decide: is this value what I measured, and is it time to change the additions?"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "move(1)", "Next field", show=False),
        Binding("up", "move(-1)", "Field before", show=False),
        Binding("pagedown", "turn(1)", "Other set", tooltip="Next test set, the last one has every property"),
        Binding("pageup", "turn(-1)", "Set before", show=False),
        Binding(
            "f6,asterisk,multiply", "readings", "Readings", tooltip="Work this field out from raw readings"
        ),
        Binding("f7,plus,add", "additions", "Additions", tooltip="Work out new additions and release them"),
        Binding("f8,slash,divide", "sheet", "Sheet", tooltip="Recent samples: look, correct, void"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.due: DueFacts | None = None
        self.any_fields: tuple[FieldFacts, ...] = ()
        self.forms: dict[str, SetForm] = {}
        self.shown = ""
        self.saving = False

    def content(self) -> ComposeResult:
        """The first form stands at once, with labels alone."""
        first = station(self).form_labels
        form = SetForm(first.test_set, first.label, first.fields)
        self.forms[first.test_set] = form
        self.shown = first.test_set
        yield Static("opening the records; you can type already", id="due")
        yield Static(styled((f" {first.label} ", "bold")), id="heading")
        with Vertical(id="forms"):
            yield form
        yield Static("", id="detail")

    @property
    def form(self) -> SetForm:
        """The form in view."""
        return self.forms[self.shown]

    def on_mount(self) -> None:
        """The first field takes the first digit."""
        if self.form.rows:
            self.form.rows[0].input.focus()
        self.set_interval(30.0, self.refresh_due)

    def open_lab(self) -> None:
        """First call on the lab: opens it and fetches what is due."""
        station(self).desk.ask(self, first_due, self.know, failed=self.not_opened)

    def reload(self) -> None:
        """What is due changes with the clock and with every saved sample."""
        station(self).desk.ask(self, fetch_due, self.know)

    def refresh_due(self) -> None:
        """Keep the minutes right while the screen is in view."""
        if self.is_current and station(self).opened:
            self.reload()

    def not_opened(self, error: SandlabError) -> None:
        """The plant could not be opened: say why; every key stays alive."""
        self.query_one("#due", Static).update("The records could not be opened. F2 tries again, F9 quits.")
        station(self).trouble(error, title="The plant could not be opened")

    def know(self, facts: DueFacts) -> None:
        """Take what is due, and give each form its expectations."""
        from zoneinfo import ZoneInfo

        here = station(self)
        here.opened, here.mark, here.zone = True, facts.decimal_mark, ZoneInfo(facts.time_zone)
        here.plant = facts.plant
        self.due = facts
        for entry in facts.sets:
            if entry.test_set in self.forms:
                title = f"{entry.label}, {entry.point_label}"
                self.forms[entry.test_set].know(entry.point, title, entry.fields)
        self.show_top()
        self.show_due()
        self.show_detail()

    def show_due(self) -> None:
        """One line per set, the most urgent first; the one in the form is marked."""
        if self.due is None:
            return
        lines: list[Part | str] = []
        for entry in self.due.sets[: 5 if self.size.height >= 36 else 3]:
            here = ">" if entry.test_set == self.shown else " "
            lines += [here, state_parts(entry.state, station(self).glyphs), f" {entry.words}\n"]
        self.query_one("#due", Static).update(styled(*lines).rstrip())
        self.query_one("#heading", Static).update(styled((f" {self.form.title} ", "bold")))

    def show_detail(self) -> None:
        """The focused field in full."""
        form = self.form
        form.count()
        row = form.row_of(self.focused)
        self.query_one("#detail", Static).update(detail_words(self, row, form))

    def on_descendant_focus(self, _event: events.DescendantFocus) -> None:
        """Follow the focus."""
        self.show_detail()

    def on_input_changed(self, event: Input.Changed) -> None:
        """Judge while it is typed."""
        row = self.form.row_of(event.input)
        if row is not None:
            row.typed()
            self.show_detail()
        self.say("")

    def on_value_input_rejected(self, _event: ValueInput.Rejected) -> None:
        """Letters and second decimal marks do not get in."""
        self.say("Only digits, one decimal point or comma, and < or > before them. Nothing was changed.")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter moves on."""
        event.stop()
        self.action_move(1)

    def action_move(self, by: int) -> None:
        """To the next or the previous stop of the form; from the last input back to the save line."""
        stops = self.form.stops()
        here = stops.index(self.focused) if self.focused in stops else -1
        at = here + by
        target = self.form.save_line if at >= len(stops) else stops[max(0, at)]
        target.focus()

    def action_turn(self, by: int) -> None:
        """Show another set; what is half typed in this one stays."""
        if self.due is None:
            return
        names = [*sorted(entry.test_set for entry in self.due.sets), ANY]
        self.open_set(names[(names.index(self.shown) + by) % len(names)])

    def open_set(self, name: str) -> None:
        """Show the form of a set, made on first use."""
        if name in self.forms:
            self.call_later(self.show_form, name)
            return
        if name == ANY:
            point = self.form.point or (self.due.sets[0].point if self.due and self.due.sets else "")
            station(self).desk.ask(
                self, lambda lab: fetch_any(lab, point), lambda fields: self.add_any(fields, point)
            )
            return
        entry = next(one for one in self.due.sets if one.test_set == name) if self.due else None
        if entry is not None:
            self.add_form(
                SetForm(name, "", labels_of(entry.fields)), entry.point, set_title(entry), entry.fields
            )

    def add_any(self, fields: tuple[FieldFacts, ...], point: str) -> None:
        """The form with every property."""
        self.add_form(SetForm(ANY, "", labels_of(fields)), point, "Any test, outside the schedule", fields)

    def add_form(self, form: SetForm, point: str, title: str, fields: tuple[FieldFacts, ...]) -> None:
        """Put a new form beside the others and show it once it can judge."""
        self.forms[form.test_set] = form

        async def place() -> None:
            form.display = False
            await self.query_one("#forms").mount(form)
            form.know(point, title, fields)
            self.show_form(form.test_set)

        self.call_later(place)

    def show_form(self, name: str) -> None:
        """Swap the form in view."""
        self.forms[self.shown].display = False
        self.shown = name
        self.form.display = True
        if self.form.rows:
            self.form.rows[0].input.focus()
        self.call_after_refresh(lambda: [row.show() for row in self.form.rows])
        self.show_due()

    def on_resize(self, event: events.Resize) -> None:
        """Fit every line to the new size."""
        super().on_resize(event)
        self.call_after_refresh(self.fit)

    def fit(self) -> None:
        """Write everything that depends on the width anew."""
        for row in self.form.rows:
            row.show()
        self.show_due()
        self.show_detail()

    def on_save_line_chosen(self, _event: SaveLine.Chosen) -> None:
        """Save, once somebody's initials stand on it."""
        if self.form.count() == 0:
            self.say("Nothing is typed yet. A blank field means: not measured.")
        elif not self.saving:
            station(self).with_initials(self.save)

    def save(self, confirmed: Collection[str] = ()) -> None:
        """Hand the sample to the lab; the fields stay until it is on disk."""
        here, form = station(self), self.form
        try:
            taken = taken_at(form.taken.value, here.now(), here.zone)
        except SandlabError as error:
            here.trouble(error)
            return
        entries, note, by, point = form.entries(), form.note.value.strip(), here.technician, form.point

        def work(lab: Lab) -> SavedFacts:
            from sandlab.lab.entry import record_sample

            return record_sample(
                lab, point=point, by=by, entries=entries, taken_at=taken, note=note, confirmed=confirmed
            )

        self.saving = True
        here.desk.ask(self, work, self.saved, failed=lambda error: self.refused(error, confirmed))

    def refused(self, error: SandlabError, confirmed: Collection[str]) -> None:
        """Ask about doubtful values; show everything else. What was typed stays in the form."""
        self.saving = False
        if not isinstance(error, NeedsConfirmation):
            station(self).trouble(error, title="Not saved; everything typed is still in the form")
            return

        def answer(agreed: bool | None) -> None:
            if agreed:
                self.save({*confirmed, *error.names})

        question = "Look at the instrument once more. Is this really what you read?"
        self.app.push_screen(Confirm("Doubtful", error.problems, question), answer)

    def saved(self, facts: SavedFacts) -> None:
        """Say what follows, and lead to the next thing to do."""
        from sandlab.screens.saved import Saved

        self.saving = False
        self.form.clear()
        if self.form.rows:
            self.form.rows[0].input.focus()
        self.reload()
        self.app.push_screen(Saved(facts), lambda wants: self.action_additions() if wants else None)

    def action_readings(self) -> None:
        """Work the focused field out from raw readings."""
        row = self.form.row_of(self.focused)
        if row is None or row.facts is None:
            return
        if not row.facts.methods:
            self.say(
                f"{row.label.label} has no method with readings: type the value as the instrument shows it."
            )
            return
        from sandlab.screens.readings import Readings

        def take(answer: tuple[Entry, JudgementFacts, str] | None) -> None:
            if answer is not None:
                row.compute_into(*answer)
                self.show_detail()
                self.action_move(1)

        self.app.push_screen(Readings(row.facts, row.readings), take)

    def action_additions(self) -> None:
        """Work out new additions from what is recorded."""
        station(self).with_initials(self.show_advice)

    def show_advice(self) -> None:
        """Show the computed additions; they can be released from there."""
        if not station(self).opened:
            return
        from sandlab.screens.advice import Advice

        self.app.push_screen(Advice(), lambda words: self.say(words or ""))

    def action_sheet(self) -> None:
        """The recent samples."""
        if station(self).opened:
            from sandlab.screens.sheet import Sheet

            self.app.push_screen(Sheet())

    def half_typed(self) -> bool:
        """Whether something typed would be lost by quitting."""
        return any(form.half_typed() for form in self.forms.values())

    def ask_leave(self, leave: Callable[[], None]) -> None:
        """Quitting with half-typed values needs one deliberate key."""
        problem = Problem("Tests", "values are typed but not saved", "press Esc and save them first")
        self.app.push_screen(
            Confirm("Quit?", [problem], "Quit and lose them?"), lambda yes: leave() if yes else None
        )


def set_title(entry: DueSetFacts) -> str:
    """A set's heading."""
    return f"{entry.label}, {entry.point_label}"


def labels_of(fields: tuple[FieldFacts, ...]) -> tuple[FieldLabel, ...]:
    """Labels of a form from its facts."""
    return tuple(FieldLabel(one.property, one.label, one.unit, one.decimals) for one in fields)


def first_due(lab: Lab) -> DueFacts:
    """What is due; the drawing is loaded along with it, so that the first judgement need not wait."""
    import sandlab.drawing  # noqa: F401

    return fetch_due(lab)


def fetch_due(lab: Lab) -> DueFacts:
    """What is due."""
    from sandlab.lab.rounds import due

    return due(lab)


def fetch_any(lab: Lab, point: str) -> tuple[FieldFacts, ...]:
    """Every property that can be measured."""
    from sandlab.lab.rounds import any_fields

    return any_fields(lab, point)
