"""Saving a form: hand it to the lab, ask about doubts, lead back to what is wrong, say what follows."""

from __future__ import annotations

from collections.abc import Callable, Collection
from functools import partial
from typing import TYPE_CHECKING

from sandlab.errors import NeedsConfirmation, Problem, SandlabError
from sandlab.screens.base import station
from sandlab.screens.form import SetForm, taken_at
from sandlab.screens.modals import Confirm, Trouble

if TYPE_CHECKING:
    from textual.timer import Timer

    from sandlab.lab.facts import SavedFacts
    from sandlab.lab.opening import Lab
    from sandlab.screens.tests_screen import TestsScreen

SLOW_S = 0.7
SLOW = "Still saving. What you type now waits for the next blank form."
REFUSED = "Not saved; everything typed is still in the form"


class Saver:
    """One save at a time; the fields stay until the sample is on the disk."""

    def __init__(self, screen: TestsScreen) -> None:
        self.screen = screen
        self.saving = False
        self.wanted = False
        self._slow: Timer | None = None

    def begin(self) -> None:
        """Save the form in view, once somebody's initials stand on it."""
        if self.screen.form.filled() == 0:
            self.screen.say("Nothing is typed yet. A blank field means: not measured.")
        elif not self.saving:
            station(self.screen).with_initials(self.save)

    def go_on(self) -> None:
        """The records are open: save what Enter was pressed for before."""
        if self.wanted:
            self.wanted = False
            self.screen.say("")
            self.save()

    def save(self, confirmed: Collection[str] = ()) -> None:
        """Hand the sample to the lab."""
        here, form = station(self.screen), self.screen.form
        if self.screen.due is None:
            self.wanted = True
            self.screen.say("Saved as soon as the records are open.")
            return
        try:
            taken = taken_at(form.taken, here.now(), here.zone)
        except SandlabError as error:
            self.tell(form, error, "")
            return
        entries, note, by, point = form.entries(), form.note, here.technician, form.point
        sample = form.sample

        def work(lab: Lab) -> SavedFacts:
            from sandlab.lab.entry import record_sample

            return record_sample(
                lab,
                point=point,
                by=by,
                entries=entries,
                taken_at=taken,
                note=note,
                confirmed=confirmed,
                sample_id=sample,
            )

        self.saving = True
        self._slow = self.screen.set_timer(SLOW_S, lambda: self.screen.say(SLOW))
        here.desk.ask(
            self.screen, work, partial(self.saved, form), failed=partial(self.refused, form, confirmed)
        )

    def answered(self) -> None:
        """The lab has answered: keys that waited go on."""
        self.saving = False
        if self._slow is not None:
            self._slow.stop()
        self.screen.say("")

    def refused(self, form: SetForm, confirmed: Collection[str], error: SandlabError) -> None:
        """Ask about doubtful values; show everything else. What was typed stays in the form."""
        self.answered()
        if not isinstance(error, NeedsConfirmation):
            self.tell(form, error, REFUSED)
            return
        names = {*confirmed, *error.names}

        def answer(agreed: bool | None) -> None:
            if agreed:
                self.save(names)
            else:
                self.lead_back(form, error)

        question = "Look at the instrument once more. Is this really what you read?"
        self.screen.app.push_screen(Confirm("Doubtful", error.problems, question), answer)

    def tell(self, form: SetForm, error: SandlabError, title: str) -> None:
        """Show what is wrong, then put the cursor where it is wrong."""
        box = Trouble(error.problems, title=title)
        self.screen.app.push_screen(box, lambda _: self.lead_back(form, error))

    def lead_back(self, form: SetForm, error: SandlabError) -> None:
        """The cursor goes to the first field that was refused."""
        wrong = form.first_wrong([one.where for one in error.problems])
        if wrong is not None:
            self.screen.set_focus(wrong)

    def saved(self, form: SetForm, facts: SavedFacts) -> None:
        """Say what follows, and lead to the next thing to do."""
        from sandlab.screens.saved import Saved

        self.answered()
        form.clear()
        self.screen.forms.focus_first()
        self.screen.keep()
        self.screen.app.push_screen(Saved(facts), self.screen.after_saved)


def ask_leave(screen: TestsScreen, leave: Callable[[], None]) -> None:
    """Quitting with half-typed values needs one deliberate key; they are kept for the next start."""
    problem = Problem("Tests", "values are typed but not saved", "press Esc and save them first")
    words = "They are kept and offered at the next start."
    if screen.keeper is None:
        problem = Problem(
            "Tests", "values are typed and the records are not open", "write them down on paper"
        )
        words = "They are lost then."
    question = Confirm("Quit?", [problem], f"Quit all the same? {words}")
    screen.app.push_screen(question, lambda agreed: leave() if agreed else None)
