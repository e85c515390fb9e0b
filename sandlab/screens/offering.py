"""What comes from outside into the tests screen: values that instruments show, batches, files."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.timer import Timer
from textual.widgets import Static

from sandlab.errors import Problem, SandlabError
from sandlab.screens.base import LabScreen, Part, dated, station, styled

if TYPE_CHECKING:
    from textual.widget import Widget

    from sandlab.lab.facts import InstrumentsFacts, OfferFacts
    from sandlab.lab.listening import Listening
    from sandlab.lab.opening import Lab
    from sandlab.screens.fields import Field
    from sandlab.screens.form import SetForm
    from sandlab.screens.forms import Forms

LOOK_S = 0.5
LISTED = 6


class OfferingScreen(LabScreen):
    """A screen with forms, whose fields are offered what instruments show."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "take_offer", "Take", show=False, tooltip="Take over what the instrument shows"),
        Binding(
            "ctrl+k", "log_batches", "Batches", show=False, tooltip="Log the batches the muller reported"
        ),
        Binding("ctrl+f", "take_in", "Import", show=False, tooltip="Take in a file: workbook or table"),
    ]
    listening: Listening | None = None
    heard: InstrumentsFacts | None = None
    _looks: Timer | None = None
    _asked = False

    if TYPE_CHECKING:

        @property
        def forms(self) -> Forms: ...
        @property
        def form(self) -> SetForm: ...
        def action_move(self, by: int) -> None: ...
        def show_detail(self) -> None: ...

    def on_mount(self) -> None:
        """Look again and again, as long as there are instruments."""
        self._looks = self.set_interval(LOOK_S, self.look_at_instruments)

    def on_unmount(self) -> None:
        """Let another process listen."""
        if self.listening is not None:
            self.listening.stop(0.0)

    def look_at_instruments(self) -> None:
        """Ask the lab, unless it still owes the last answer."""
        if station(self).opened and not self._asked:
            self._asked = True
            station(self).desk.ask(self, self.fetch, self.show_offers, failed=self.not_heard)

    def fetch(self, lab: Lab) -> InstrumentsFacts | None:
        """In the lab's thread: what is offered; listens itself when nobody does."""
        if not lab.specs.instruments:
            return None
        from sandlab.lab.instruments import instruments
        from sandlab.lab.listening import listen

        if self.listening is None:
            self.listening = listen(lab)
        return instruments(lab)

    def not_heard(self, error: SandlabError) -> None:
        """The journal could not be read: try again later."""
        self._asked = False
        self.say(str(error.problems[0]))

    def show_offers(self, facts: InstrumentsFacts | None) -> None:
        """Offer each value to its field; say which lines are lost and how many batches wait."""
        self._asked = False
        if facts is None:
            if self._looks is not None:
                self._looks.stop()
            return
        before, self.heard = self.heard, facts
        for form in self.forms.made.values():
            offers = {one.target: one for one in facts.offers if one.point in ("", form.point)}
            for field in form.fields:
                field.offer = offers.get(field.label.property)
        if before is None or before.offers != facts.offers:
            self.form.show()
        self._tell(facts)

    def _tell(self, facts: InstrumentsFacts) -> None:
        zone = station(self).zone
        lost = [one for one in facts.instruments if one.state == "lost"]
        parts: list[Part | str] = []
        for one in lost[:1]:
            more = f" and {len(lost) - 1} more" if len(lost) > 1 else ""
            since = dated(one.since, zone, "%a %H:%M")
            parts.append((f" {one.label}{more}: line lost since {since} ", "$watch"))
        if facts.batches:
            parts.append(f" {facts.batches[0].label}: {len(facts.batches)} to log, Ctrl+K ")
        shown = self.query("#instruments")
        if not shown and not parts:
            return
        strip = shown.first(Static) if shown else Static(id="instruments")
        if not shown:
            self.mount(strip, after="#top")
        strip.update(styled(*parts))
        strip.display = bool(parts)

    def action_take_offer(self) -> None:
        """Take over what an instrument shows for the field in focus."""
        field: Field | None = self.form.field_of(self.focused)
        offer = field.offer if field is not None else None
        if field is None or offer is None or field.text:
            self.say("No instrument shows a value for this field.")
            return
        field.offer = None
        field.input.write(offer.text)
        field.typed()
        self.form.show()
        self.action_move(1)
        self.show_detail()
        taken(self, offer)

    def action_take_in(self) -> None:
        """Take in a file."""
        if station(self).opened:
            station(self).with_initials(self._open_import)

    def _open_import(self) -> None:
        from sandlab.screens.import_box import ImportBox

        self.app.push_screen(ImportBox(), lambda words: self.say(words or ""))

    def action_log_batches(self) -> None:
        """Show what the muller reported, and log it after one deliberate key."""
        if self.heard is None or not self.heard.batches:
            self.say("The muller has reported no batch that is not logged.")
            return
        station(self).with_initials(self._ask_batches)

    def _ask_batches(self) -> None:
        from sandlab.screens.modals import Confirm

        waiting = self.heard.batches if self.heard is not None else ()
        problems = [
            Problem(one.label, one.words.removeprefix(f"{one.label} "), "") for one in waiting[:LISTED]
        ]
        if len(waiting) > LISTED:
            problems.append(Problem("and", f"{len(waiting) - LISTED} more", ""))
        question = f"Log {len(waiting)} as reported?"
        self.app.push_screen(Confirm("Batches reported", problems, question), self._log)

    def _log(self, agreed: bool | None) -> None:
        if agreed:
            by = station(self).technician
            station(self).desk.ask(
                self, partial(_logged, by=by), lambda count: self.say(f"{count} batches logged.")
            )


def taken(widget: Widget, offer: OfferFacts) -> None:
    """Say that a value was taken over, so that it is offered to nobody any more."""
    here = station(widget)
    by, readings = here.technician, [offer.reading]

    def work(lab: Lab) -> None:
        from sandlab.lab.instruments import take

        take(lab, readings, by=by)

    here.desk.ask(widget, work, lambda _none: None)


def offered_reading(widget: Widget, target: str) -> OfferFacts | None:
    """What an instrument shows for METHOD.READING, as heard by the screen below a box."""
    heard = [one.heard for one in widget.app.screen_stack if isinstance(one, OfferingScreen)]
    offers = [offer for facts in heard if facts is not None for offer in facts.offers]
    return next((one for one in offers if one.target == target), None)


def _logged(lab: Lab, *, by: str) -> int:
    from sandlab.lab.instruments import log_offered_batches

    return len(log_offered_batches(lab, by=by))
