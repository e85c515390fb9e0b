"""From one set's form to another's: the next one, or the most urgent one."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from sandlab.screens.base import station
from sandlab.screens.forms import ANY, ANY_TITLE, fetch_any, set_title

if TYPE_CHECKING:
    from sandlab.lab.facts import FieldFacts
    from sandlab.screens.tests_screen import TestsScreen


def start_due(screen: TestsScreen) -> None:
    """Show the form of the most urgent set."""
    first = next((one for one in screen.sets() if one.state != "done"), None)
    if first is None or first.test_set == screen.forms.shown:
        screen.say("This is the most urgent set." if first else "Nothing is due now.")
        return
    screen.call_later(screen.forms.add, first.test_set, first.point, set_title(first), first.fields)
    screen.call_after_refresh(screen.fit)


def turn(screen: TestsScreen, by: int) -> None:
    """Show the next form, or the one before; the last one has every property."""
    if screen.due is None:
        return
    names = screen.forms.names(screen.due)
    name = names[(names.index(screen.forms.shown) + by) % len(names)]
    entry = next((one for one in screen.sets() if one.test_set == name), None)
    if entry is not None:
        screen.call_later(screen.forms.add, name, entry.point, set_title(entry), entry.fields)
        screen.call_after_refresh(screen.fit)
        return
    # A sample outside the schedule is taken where the most frequent set is.
    point = screen.forms.made[station(screen).form_labels.test_set].point
    where = next((one.point_label for one in screen.sets() if one.point == point), point)

    def show(fields: tuple[FieldFacts, ...]) -> None:
        screen.call_later(screen.forms.add, ANY, point, f"{ANY_TITLE}, {where}", fields)
        screen.call_after_refresh(screen.fit)

    station(screen).desk.ask(screen, partial(fetch_any, point=point), show)
