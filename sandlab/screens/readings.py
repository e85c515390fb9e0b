"""A field worked out from raw readings: choose the method, type the readings, see the result."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from sandlab.errors import SandlabError
from sandlab.lab.entry import Entry, compute
from sandlab.lab.facts import FieldFacts, JudgementFacts, MethodFacts
from sandlab.quantities import format_number
from sandlab.screens.base import state_parts, station, styled
from sandlab.screens.modals import Panel
from sandlab.screens.number_field import NumberField
from sandlab.screens.offering import LOOK_S, offered_reading, taken
from sandlab.screens.timers import Task, tasks_of, timer_key

if TYPE_CHECKING:
    from sandlab.lab.facts import OfferFacts
    from sandlab.lab.opening import Lab

Answer = tuple[Entry, JudgementFacts, str]


class Readings(Panel[Answer | None]):
    """Returns the entry, its judgement and the text for the form's field."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Back"),
        Binding("f6,asterisk,multiply", "method", "Other method"),
        Binding("f7,plus,add", "take", "Take it"),
        Binding("f8,insert,ctrl+r", "timer", "Timer"),
        Binding("space", "take_offer", "Take what is shown", show=False),
    ]

    def __init__(self, field: FieldFacts, before: Entry | None) -> None:
        super().__init__()
        self.field = field
        keys = [one.method for one in field.methods]
        self.chosen = keys.index(before.method) if before and before.method in keys else 0
        self.texts = {before.method: before.readings} if before else {}
        if not before and (timed := self.timed_before()) is not None:
            self.chosen = timed
        self.answer: Answer | None = None
        self.inputs: list[list[NumberField]] = []

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer another method, and a timer, only where there is one."""
        if action == "method":
            return len(self.field.methods) > 1
        return action != "timer" or bool(self.method.timed) or self.any_timer()

    def any_timer(self) -> bool:
        """Whether a timer runs on this terminal."""
        timers = station(self).timers
        return timers is not None and bool(timers.running)

    @property
    def method(self) -> MethodFacts:
        """The method in use."""
        return self.field.methods[self.chosen]

    def heading(self) -> str:
        """Which property."""
        return f"{self.field.label} from readings"

    def content(self) -> ComposeResult:
        """Method and caution, the readings, the result."""
        yield Static("", id="method", classes="words")
        yield Vertical(id="readings")
        yield Static("", id="result")

    async def on_mount(self) -> None:
        """Show the first method."""
        self.set_interval(LOOK_S, self.show_offer)
        await self.show_method()

    def offer(self) -> OfferFacts | None:
        """What an instrument shows for the blank reading in focus."""
        order, field = self.order(), self.focused
        if not isinstance(field, NumberField) or field not in order or field.value:
            return None
        reading = self.method.readings[order.index(field) % len(self.method.readings)]
        return offered_reading(self, f"{self.method.method}.{reading.name}")

    def show_offer(self) -> None:
        """Say that it can be taken."""
        offer = self.offer()
        if offer is not None:
            self.query_one("#result", Static).update(f"{offer.words}: Space takes it")

    def action_take_offer(self) -> None:
        """Take it into the reading, and go on."""
        offer = self.offer()
        if offer is not None and isinstance(self.focused, NumberField):
            self.focused.write(offer.text)
            taken(self, offer)
            self.work_out()
            self.action_enter()

    async def action_method(self) -> None:
        """Use the next method."""
        if len(self.field.methods) > 1:
            self.texts[self.method.method] = self.typed()
            self.chosen = (self.chosen + 1) % len(self.field.methods)
            await self.show_method()

    async def show_method(self) -> None:
        """Name, caution, and a row per reading with a field per repeat."""
        method = self.method
        which = f" ({self.chosen + 1} of {len(self.field.methods)})" if len(self.field.methods) > 1 else ""
        caution = (f"\nCaution: {method.caution}", "$watch") if method.caution else ""
        self.query_one("#method", Static).update(styled((method.label, "bold"), which, caution))
        kept = self.texts.get(method.method, ())
        self.inputs = [
            [NumberField(_text(kept, repeat, place)) for place in range(len(method.readings))]
            for repeat in range(method.repeats)
        ]
        box = self.query_one("#readings", Vertical)
        await box.remove_children()
        rows = []
        longest = max((len(one.label) for one in method.readings), default=0)
        for place, reading in enumerate(method.readings):
            unit = f" {reading.unit}" if reading.unit not in ("", "1") else ""
            span = f"{reading.low:g} to {reading.high:g}{unit}".replace(".", station(self).mark)
            cells = [self.inputs[repeat][place] for repeat in range(method.repeats)]
            name = Static(reading.label, classes="name")
            name.styles.width = longest + 2  # three repeats leave no room to spare
            rows.append(Horizontal(name, *cells, Static(f" {span}"), classes="line"))
        await box.mount(*rows)
        self.refresh_bindings()
        self.take_stopped()
        if self.inputs and self.inputs[0]:
            self.set_focus(self.inputs[0][0])
        self.work_out()

    def typed(self) -> tuple[tuple[str, ...], ...]:
        """The readings as typed, a tuple per repeat."""
        return tuple(tuple(one.value.strip() for one in repeat) for repeat in self.inputs)

    def on_number_field_changed(self, _event: NumberField.Changed) -> None:
        """Work the result out as soon as a repeat is complete."""
        self.work_out()

    def order(self) -> list[NumberField]:
        """All fields, down each repeat."""
        return [one for repeat in self.inputs for one in repeat]

    def action_enter(self) -> None:
        """Enter goes down each repeat; at the end, or on a blank one, it takes the result."""
        order = self.order()
        at = order.index(self.focused) if isinstance(self.focused, NumberField) else len(order)
        blank_from_here = not any(one.value.strip() for one in order[at:])
        if at + 1 >= len(order) or (self.answer is not None and blank_from_here):
            self.action_take()
        else:
            self.set_focus(order[at + 1])

    def work_out(self) -> None:
        """Have the lab compute, when there is a complete repeat."""
        self.answer = None
        typed = self.typed()
        filled = [repeat for repeat in typed if any(repeat)]
        missing = [
            self.method.readings[place].label
            for repeat in filled
            for place, text in enumerate(repeat)
            if not text
        ]
        line = self.query_one("#result", Static)
        if not filled or missing:
            line.update(
                styled((f"still to read: {', '.join(missing)}" if missing else "type the readings", "$muted"))
            )
            return
        entry = Entry(property=self.field.property, method=self.method.method, readings=tuple(filled))

        def work(lab: Lab) -> JudgementFacts:
            return compute(lab, self.field, entry)

        station(self).desk.ask(
            self,
            work,
            lambda judged: self.know(entry, judged),
            failed=lambda error: self.refuse(entry, error),
        )

    def know(self, entry: Entry, judged: JudgementFacts) -> None:
        """Show the result, unless more was typed meanwhile."""
        if entry.readings != tuple(repeat for repeat in self.typed() if any(repeat)):
            return
        here = station(self)
        text = format_number(judged.value, self.field.decimals, mark=here.mark)
        self.answer = (entry, judged, text)
        mark = state_parts(judged.state, here.glyphs)
        words = judged.words.removeprefix(mark[0][3:-1]).lstrip(":; ")
        self.query_one("#result", Static).update(
            styled((f"{text} {self.field.unit} ", "bold"), mark, f" {words}")
        )

    def refuse(self, entry: Entry, error: SandlabError) -> None:
        """Say what is wrong with the readings."""
        if entry.readings == tuple(repeat for repeat in self.typed() if any(repeat)):
            # The title names the method already; a sieve set leaves a single line for the message.
            words = "; ".join(map(str, error.problems)).replace(f"{self.method.label}, ", "")
            words = words.replace(", repeat 1", "") if self.method.repeats == 1 else words
            self.query_one("#result", Static).update(styled((words, "$watch")))

    def timed_before(self) -> int | None:
        """The method whose reading has been stopped already."""
        timers = station(self).timers
        stopped = timers.stopped if timers is not None else {}
        for place, method in enumerate(self.field.methods):
            if any((self.field.property, one.reading) in stopped for one in method.timed):
                return place
        return None

    def action_timer(self) -> None:
        """Start, stop or answer a timer from here."""
        timer_key(station(self))

    def timed_here(self) -> list[Task]:
        """What this method times."""
        only = self.field.model_copy(update={"methods": (self.method,)})
        return tasks_of([only])

    def time_stopped(self, _task: Task) -> None:
        """A stopped time goes into its reading."""
        self.take_stopped()
        self.work_out()

    def take_stopped(self) -> None:
        """Write stopped times into the first blank field of their reading."""
        timers = station(self).timers
        names = [one.name for one in self.method.readings]
        for timed in self.method.timed:
            key = self.field.property, timed.reading
            if timers is None or key not in timers.stopped or timed.reading not in names:
                continue
            column = [repeat[names.index(timed.reading)] for repeat in self.inputs]
            blank = next((one for one in column if not one.value), None)
            if blank is not None:
                blank.write(format_number(timers.take(*key), 1, mark=station(self).mark))

    def action_move(self, by: int) -> None:
        """The arrows go through the readings."""
        order = self.order()
        at = order.index(self.focused) + by if isinstance(self.focused, NumberField) else 0
        self.set_focus(order[max(0, min(at, len(order) - 1))])

    def action_take(self) -> None:
        """Put the result into the form."""
        if self.answer is not None:
            self.dismiss(self.answer)

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """Keep the focused reading in view."""
        event.widget.scroll_visible()


def _text(kept: tuple[tuple[str, ...], ...], repeat: int, place: int) -> str:
    """What was typed before, if anything."""
    return kept[repeat][place] if repeat < len(kept) and place < len(kept[repeat]) else ""
