"""Repeating a test: the form of its set, the cursor in its field, and a note that says what it repeats."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from sandlab.lab.facts import FieldFacts
from sandlab.screens.base import station
from sandlab.screens.forms import ANY, ANY_TITLE, fetch_any, set_title

if TYPE_CHECKING:
    from sandlab.screens.tests_screen import TestsScreen


def open_sheet(screen: TestsScreen) -> None:
    """The recent samples, their properties in the order of the form in view and then of the others."""
    from sandlab.screens.sheet import Sheet

    sets = sorted(screen.sets(), key=lambda one: one.test_set != screen.forms.shown)
    order = [field.property for one in sets for field in one.fields]
    screen.app.push_screen(Sheet(order, partial(repeat, screen)))


def repeat(screen: TestsScreen, property: str, point: str, note: str) -> None:
    """Lead to the field of a property; the set is one of that point, else the form with every property."""
    for entry in screen.sets():
        if entry.point == point and property in {one.property for one in entry.fields}:
            title = set_title(entry)
            screen.call_later(_show, screen, entry.test_set, point, title, entry.fields, property, note)
            return

    def show(fields: tuple[FieldFacts, ...]) -> None:
        screen.call_later(_show, screen, ANY, point, f"{ANY_TITLE}, {point}", fields, property, note)

    station(screen).desk.ask(screen, partial(fetch_any, point=point), show)


async def _show(
    screen: TestsScreen,
    name: str,
    point: str,
    title: str,
    fields: tuple[FieldFacts, ...],
    property: str,
    note: str,
) -> None:
    await screen.forms.add(name, point, title, fields)
    form = screen.form
    form.add_extras()
    if form.extras and not form.note:
        form.extras[1].value = note
    field = next((one for one in form.fields if one.label.property == property), None)
    if field is not None:
        screen.set_focus(field.input)
    screen.call_after_refresh(screen.fit)
