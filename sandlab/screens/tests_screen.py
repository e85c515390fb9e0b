"""The technician's screen: what is due, the form to log it, and what follows from a saved sample."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from sandlab.errors import SandlabError
from sandlab.screens.base import station, styled
from sandlab.screens.detail import detail_words
from sandlab.screens.due_lines import due_lines
from sandlab.screens.form import SetForm
from sandlab.screens.forms import Forms, fetch_due, first_due
from sandlab.screens.news import News
from sandlab.screens.number_field import NumberField
from sandlab.screens.offering import OfferingScreen
from sandlab.screens.saving import Saver, ask_leave
from sandlab.screens.turning import start_due, turn

if TYPE_CHECKING:
    from sandlab.lab.entry import Entry
    from sandlab.lab.facts import DueFacts, DueSetFacts, JudgementFacts
    from sandlab.screens.glance import Glance
    from sandlab.screens.keeping import Keeper
    from sandlab.screens.timers import Task


class TestsScreen(OfferingScreen):
    """Due sets above, the form in the middle, the focused field in detail below."""

    __test__ = False
    DECIDES = "You decide: is this value what I measured, and is it time to change the additions?"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "move(1)", "Next field", show=False),
        Binding("up", "move(-1)", "Field before", show=False),
        Binding(
            "pagedown", "turn(1)", "Set", tooltip="Next test set, the last has all; PgUp: the one before"
        ),
        Binding("pageup", "turn(-1)", "Set before", show=False),
        Binding("f6,asterisk,multiply", "readings", "Readings", tooltip="Work this field out from readings"),
        Binding("f7,plus,add", "additions", "Additions", tooltip="Work out new additions and release them"),
        Binding("f8,slash,divide", "sheet", "Sheet", tooltip="Recent samples: look, correct, void"),
        Binding("ctrl+g", "shift", "Shift", show=False, tooltip="Notes handed over, and steps to be taken"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.due: DueFacts | None = None
        self.glance: Glance | None = None
        self.saver = Saver(self)
        self.keeper: Keeper | None = None
        self.news = News(self)
        self.lead_on = False

    def content(self) -> ComposeResult:
        """The first form stands at once, with labels alone."""
        first = station(self).form_labels
        yield Static("opening the records; you can type already", id="due")
        yield Static(styled((f" {first.label} ", "bold")), id="heading")
        yield Forms(first)
        yield Static("", id="detail")

    @property
    def busy(self) -> bool:
        """Whether what is typed now belongs to the next sample, and waits for its blank form."""
        return self.saver.saving or self.saver.wanted

    @property
    def forms(self) -> Forms:
        """All forms."""
        return self.query_one(Forms)

    @property
    def form(self) -> SetForm:
        """The form in view."""
        return self.forms.current

    def on_mount(self) -> None:
        """The first field takes the first digit."""
        self.forms.focus_first()
        self.set_interval(30.0, self.refresh_due)

    def open_lab(self) -> None:
        """First call on the lab: opens it and fetches what is due."""
        station(self).desk.ask(self, first_due, self.know, failed=self.not_opened)

    def reload(self) -> None:
        """What is due changes with the clock and with every saved sample."""
        self.news.wanted = True
        self.look()

    def look(self) -> None:
        """Fetch what is due."""
        station(self).desk.ask(self, fetch_due, self.know, failed=self.unread)

    def refresh_due(self) -> None:
        """Keep the minutes right while the screen is in view."""
        if self.is_current and station(self).opened:
            self.look()

    def not_opened(self, error: SandlabError) -> None:
        """The plant could not be opened: say why; every key stays alive."""
        self.saver.wanted = False
        self.query_one("#due", Static).update("The records could not be opened. F2 tries again, F9 quits.")
        station(self).trouble(error, title="The plant could not be opened")

    def know(self, facts: DueFacts) -> None:
        """Take what is due, and give each form its expectations."""
        station(self).opened_as(facts)
        self.due = facts
        self.forms.know(facts)
        self.show_top()
        if self.glance is None:
            from sandlab.screens.glance import Glance

            self.glance = Glance(id="glance")
            self.mount(self.glance, after="#detail")
            from sandlab.screens.keeping import Keeper

            self.keeper = Keeper(self)
            self.keeper.look()
        self.call_after_refresh(self.fit)
        self.saver.go_on()
        if self.lead_on:
            self.lead_on = False
            if not self.forms.half_typed() and any(one.state != "done" for one in facts.sets):
                self.start_due()
        self.keep()
        self.news.attend()

    def action_shift(self) -> None:
        """Notes handed over, and steps to be taken."""
        if station(self).opened:
            self.news.open_shift()

    def new_person(self) -> None:
        """Somebody else is here: the draft is theirs from now on, and what was handed over comes first."""
        if self.keeper is not None:
            self.keeper.change_person()
        self.news.new_person()

    def fit(self) -> None:
        """Write everything anew for the size there is."""
        self.form.show()
        self.show_due()
        self.show_detail()

    def show_due(self) -> None:
        """One line per set, the most urgent first; the one in the form is marked."""
        if self.due is None:
            return
        self.query_one("#due", Static).update(due_lines(self, self.due.sets))
        self.query_one("#heading", Static).update(styled((f" {self.form.title} ", "bold")))

    def show_detail(self) -> None:
        """The focused field in full, and its chart where there is room."""
        field = self.form.field_of(self.focused)
        self.query_one("#detail", Static).update(detail_words(self, field, self.form))
        if field is not None and self.glance is not None:
            self.glance.look_at(field.label.property)

    def on_resize(self, event: events.Resize) -> None:
        """Fit every line to the new size."""
        super().on_resize(event)
        self.call_after_refresh(self.fit)

    def on_descendant_focus(self, _event: events.DescendantFocus) -> None:
        """Follow the focus; what was typed in the field that is left is kept."""
        self.say("")
        self.show_detail()
        self.keep()

    def on_number_field_changed(self, event: NumberField.Changed) -> None:
        """Judge while it is typed."""
        field = self.form.field_of(event.field)
        if field is not None:
            field.typed()
            self.form.show()
            self.show_detail()
            self.keep_soon()

    def on_number_field_rejected(self, _event: NumberField.Rejected) -> None:
        """No value is that long."""
        self.say("A value has at most 12 characters. Nothing was changed.")

    def on_number_field_moved(self, _event: NumberField.Moved) -> None:
        """A keypad without its NumLock sends arrows for digits."""
        self.say("No digit came: that key moves the cursor. For digits press NumLock.")

    def action_enter(self) -> None:
        """Enter moves on."""
        self.action_move(1)

    def action_move(self, by: int) -> None:
        """To the next or the previous stop of the form; from the last one back to the save line."""
        stops = self.form.stops()
        at = (stops.index(self.focused) if self.focused in stops else -1) + by
        # Not `focus()` of the widget, which would wait behind keys already typed.
        self.set_focus(self.form.save_line if at >= len(stops) else stops[max(0, at)])

    def start_due(self) -> None:
        """Show the form of the most urgent set."""
        start_due(self)

    def action_turn(self, by: int) -> None:
        """Show another set; what is half typed in this one stays."""
        turn(self, by)

    def action_save_sample(self) -> None:
        """Save the form in view."""
        self.saver.begin()

    def after_saved(self, wants: bool | None) -> None:
        """The next thing to do: additions when asked for, else what was left half typed."""
        if wants:
            self.action_additions()
            return
        # Enter goes on to what is due; Esc stays with this set.
        # Values typed on unseen are for a form of the same set.
        self.lead_on = wants is not None and not station(self).aside
        if self.lead_on:
            self.look()
        if self.keeper is not None:
            self.keeper.offer_next()

    def action_readings(self) -> None:
        """Work the focused field out from raw readings."""
        field = self.form.field_of(self.focused)
        if field is None or field.facts is None:
            return
        if not field.facts.methods:
            self.say(f"{field.label.label} has no method with readings: type what the instrument shows.")
            return
        from sandlab.screens.readings import Readings

        def take(answer: tuple[Entry, JudgementFacts, str] | None) -> None:
            if answer is not None:
                field.compute_into(*answer)
                self.form.show()
                self.action_move(1)
                self.show_detail()

        self.app.push_screen(Readings(field.facts, field.readings), take)

    def action_additions(self) -> None:
        """Work out new additions from what is recorded."""
        if station(self).opened:
            station(self).with_initials(self.show_advice)

    def show_advice(self) -> None:
        """Show the computed additions; they can be released from there."""
        from sandlab.screens.advice import Advice

        self.app.push_screen(Advice(), lambda words: self.say(words or ""))

    def action_sheet(self) -> None:
        """The recent samples."""
        if self.due is not None:
            from sandlab.screens.repeating import open_sheet

            open_sheet(self)

    def ask_leave(self, leave: Callable[[], None]) -> None:
        """Quitting with half-typed values needs one deliberate key."""
        self.keep()
        ask_leave(self, leave)

    def keep(self) -> None:
        """Have what is half typed kept on the disk."""
        if self.keeper is not None:
            self.keeper.keep()

    def keep_soon(self) -> None:
        """Keep it once the hand rests, though the field is not left."""
        if self.keeper is not None:
            self.keeper.keep_soon()

    def on_input_changed(self) -> None:
        """The time or the note was typed in."""
        self.keep_soon()

    def sets(self) -> tuple[DueSetFacts, ...]:
        """The sets of the schedule."""
        return self.due.sets if self.due is not None else ()

    def timed_here(self) -> list[Task]:
        """What the focused field's methods time, else all of the form."""
        from sandlab.screens.timers import form_tasks

        return form_tasks(self.form, self.focused)

    def time_stopped(self, task: Task) -> None:
        """A stopped time waits for its reading."""
        self.say(f"{task.what} stopped: F6 on {task.label} takes it into the readings.")
