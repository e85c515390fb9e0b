"""All forms of the entry screen, one in view; what is half typed in the others stays."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.containers import Vertical

from sandlab.labels import FieldLabel, FirstForm
from sandlab.screens.form import SetForm

if TYPE_CHECKING:
    from sandlab.lab.facts import DueFacts, DueSetFacts, FieldFacts
    from sandlab.lab.opening import Lab

ANY = "any"
"""The form with every property, for a sample outside the schedule."""

ANY_TITLE = "Any test, outside the schedule"
"""Its heading; the point follows."""


class Forms(Vertical):
    """A form per test set, made on first use."""

    def __init__(self, first: FirstForm) -> None:
        form = SetForm(first.test_set, first.label, first.fields)
        super().__init__(form, id="forms")
        self.made: dict[str, SetForm] = {first.test_set: form}
        self.shown = first.test_set

    @property
    def current(self) -> SetForm:
        """The form in view."""
        return self.made[self.shown]

    def know(self, due: DueFacts) -> None:
        """Give each form its expectations; typed texts stay."""
        for entry in due.sets:
            if entry.test_set in self.made:
                self.made[entry.test_set].know(entry.point, set_title(entry), entry.fields)

    def names(self, due: DueFacts) -> list[str]:
        """Every form there can be, in an order that does not move with the clock."""
        return [*sorted(entry.test_set for entry in due.sets), ANY]

    async def add(self, name: str, point: str, title: str, fields: tuple[FieldFacts, ...]) -> None:
        """Make a form that can judge at once, and show it."""
        made = self.made.get(name)
        if made is not None and name == ANY and not made.half_typed():
            made.know(point, title, fields)
        if name not in self.made:
            labels = [FieldLabel(one.property, one.label, one.unit, one.decimals) for one in fields]
            form = SetForm(name, title, labels)
            form.display = False
            self.made[name] = form
            await self.mount(form)
            form.know(point, title, fields)
        self.show(name)

    def show(self, name: str) -> None:
        """Swap the form in view; its first field takes the keys."""
        self.current.display = False
        self.shown = name
        self.current.display = True
        self.focus_first()

    def focus_first(self) -> None:
        """The first field takes the keys."""
        if self.current.fields:
            self.screen.set_focus(self.current.fields[0].input)

    def half_typed(self) -> bool:
        """Whether something typed would be lost by quitting."""
        return any(form.half_typed() for form in self.made.values())


def set_title(entry: DueSetFacts) -> str:
    """A set's heading."""
    return f"{entry.label}, {entry.point_label}"


def first_due(lab: Lab) -> DueFacts:
    """What is due; what its judgement draws is loaded along with it."""
    from sandlab.screens.desk import unswept

    with unswept():
        import sandlab.drawing.scale  # noqa: F401

        return fetch_due(lab)


def fetch_due(lab: Lab) -> DueFacts:
    """What is due."""
    from sandlab.lab.rounds import due

    return due(lab)


def fetch_any(lab: Lab, point: str) -> tuple[FieldFacts, ...]:
    """Every property that can be measured."""
    from sandlab.lab.rounds import any_fields

    return any_fields(lab, point)
