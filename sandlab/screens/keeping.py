"""Half-typed sets: kept at each field left and when the hand rests, and offered at the next start."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.timer import Timer
from textual.widgets import Static

from sandlab.lab.drafts import DraftSet, LeftDraft, keep, left, take_up, throw_away
from sandlab.lab.facts import FieldFacts
from sandlab.lab.timing import KeptTimers, take_up_timers
from sandlab.screens.base import station
from sandlab.screens.forms import ANY, fetch_any, set_title
from sandlab.screens.modals import Panel

if TYPE_CHECKING:
    from sandlab.lab.opening import Lab
    from sandlab.screens.tests_screen import TestsScreen

REST_S = 0.3
"""A hand that rests that long has typed what it wanted to."""

Taken = tuple[LeftDraft | None, dict[str, tuple[FieldFacts, ...]]]


class Keeper:
    """What the forms of one terminal hold half typed, and what others left behind."""

    def __init__(self, screen: TestsScreen) -> None:
        self.screen = screen
        self.kept: tuple[DraftSet, ...] = ()
        self.by = ""
        self.found: list[LeftDraft] = []
        self._rests: Timer | None = None

    def keep(self) -> None:
        """Have the lab write down what is half typed, if it is not written already."""
        here = station(self.screen)
        forms = self.screen.forms.made.values()
        sets = tuple(draft for form in forms if (draft := form.draft(here.now())) is not None)
        by = here.technician
        if (sets, by) == (self.kept, self.by) or not (sets or self.kept):
            return
        self.kept, self.by = sets, by

        def work(lab: Lab) -> None:
            if self.kept is sets:  # else a later one waits behind this
                keep(lab, sets, by=by)

        here.desk.ask(
            self.screen,
            work,
            lambda _: None,
            failed=lambda error: self.screen.say(str(error.problems[0])),
        )

    def change_person(self) -> None:
        """What is half typed is theirs from now on; they must know that it is, and how old it is."""
        before = self.by
        self.keep()
        if self.kept and before not in ("", self.by):
            begun = min(one.begun for one in self.kept).astimezone(station(self.screen).zone)
            words = f"Half typed by {before} since {begun:%H:%M}; saved, it stands beside {self.by}."
            self.screen.say(f"{words} Type when it was taken.")

    def keep_soon(self) -> None:
        """Keep as soon as nothing was typed for a moment."""
        if self._rests is not None:
            self._rests.stop()
        self._rests = self.screen.set_timer(REST_S, self.keep)

    def look(self) -> None:
        """Look for what was left half typed, and go on with timers that ran."""
        here = station(self.screen)
        here.desk.ask(self.screen, take_up_timers, self.go_on)
        here.desk.ask(self.screen, left, self.offer, failed=self.screen.unread)

    def go_on(self, kept: KeptTimers) -> None:
        """Timers run on whoever is here, and need no yes."""
        if kept != KeptTimers():
            from sandlab.screens.timers import resume

            resume(station(self.screen), kept)

    def offer(self, found: tuple[LeftDraft, ...]) -> None:
        """Offer one after the other, as soon as no form is half typed and no box is open."""
        self.found = list(found)
        self.offer_next()

    def offer_next(self) -> None:
        """Offer the oldest."""
        if self.found and self.screen.is_current and not self.screen.forms.half_typed():
            one = self.found.pop(0)
            self.screen.app.push_screen(Left(one), partial(self.answered, one))

    def answered(self, one: LeftDraft, answer: str | None) -> None:
        """Take it up, throw it away, or leave it for later."""
        desk, by = station(self.screen).desk, station(self.screen).technician
        if answer == "take":
            desk.ask(self.screen, partial(taken_up, name=one.name, by=by), self.fill)
        elif answer == "throw":
            desk.ask(self.screen, lambda lab: throw_away(lab, one.name), lambda _: self.offer_next())
        elif answer is None:
            self.offer_next()

    def fill(self, taken: Taken) -> None:
        """Show what was taken up in its forms."""
        draft, others = taken
        if draft is None:
            self.screen.say("Another terminal has taken it up meanwhile.")
        else:
            self.kept, self.by = draft.sets, station(self.screen).technician
            self.screen.call_later(self.fill_forms, draft, others)

    async def fill_forms(self, draft: LeftDraft, others: dict[str, tuple[FieldFacts, ...]]) -> None:
        """Make the forms that are not there yet, and write into them."""
        screen, here = self.screen, station(self.screen)
        lost, first = [], ""
        for one in draft.sets:
            entry = next((each for each in screen.sets() if each.test_set == one.test_set), None)
            if entry is not None:
                await screen.forms.add(one.test_set, entry.point, set_title(entry), entry.fields)
            else:
                await screen.forms.add(ANY, one.point, one.title, others.get(one.sample, ()))
            lost += screen.forms.current.take_up(one, f"{one.begun.astimezone(here.zone):%Y-%m-%d %H:%M}")
            first = first or screen.forms.shown
        screen.forms.show(first)
        if lost:
            names = ", ".join(f"{each.property.replace('_', ' ')} {each.text}" for each in lost)
            screen.say(f"No field is left for {names}: log it with the last set, PgUp.")
        screen.call_after_refresh(screen.fit)


def taken_up(lab: Lab, *, name: str, by: str) -> Taken:
    """What is taken up, with the fields of sets that are not in the schedule."""
    draft = take_up(lab, name, by=by)
    sets = draft.sets if draft is not None else ()
    others = {one.sample: fetch_any(lab, one.point) for one in sets if one.test_set not in lab.sand.schedule}
    return draft, others


class Left(Panel[str | None]):
    """Returns take or throw; typing a value leaves it for later and goes into the form."""

    HEADING = "Half typed before, and not saved"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f6,plus,add", "choose('take')", "Take it up"),
        Binding("f8", "choose('throw')", "Throw it away"),
        Binding("escape", "leave", "Later"),
    ]

    def __init__(self, draft: LeftDraft) -> None:
        super().__init__()
        self.draft = draft

    def content(self) -> ComposeResult:
        """What it is, whose, how old, and its values."""
        yield Static("\n".join(self.draft.words), classes="words", markup=False)
        for one in self.draft.sets:
            values = ", ".join(f"{each.property.replace('_', ' ')} {each.text}" for each in one.entries)
            yield Static(values or one.note, classes="words", markup=False)
        words = (
            "Taken up, the time it was begun stands as the time it was taken. "
            "Left for later, or when you type a value, it is offered again at the next start."
        )
        yield Static(words, classes="words")

    def action_choose(self, answer: str) -> None:
        """Take or throw."""
        self.dismiss(answer)

    def passes(self, event: events.Key) -> bool:
        """A digit belongs to the form: it goes there, and all keys after it."""
        if event.character is None or not event.character.isdigit():
            return False
        self.dismiss("later")
        return True
