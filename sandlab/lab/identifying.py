"""Plant values that a window of the history tells: prepared in the lab's thread, solved beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta

from sandlab.balance.identify import STUDENT, Fitted, Identification, identify
from sandlab.balance.log import Log
from sandlab.errors import impossible
from sandlab.lab.accepting import VALUES
from sandlab.lab.estimates import slow_words
from sandlab.lab.facts import FittedFacts, IdentificationFacts
from sandlab.lab.learning import told
from sandlab.lab.opening import Lab
from sandlab.lab.series import microseconds, moment_of
from sandlab.lab.showing import sentence
from sandlab.labels import inside
from sandlab.quantities import format_number

USUAL_DAYS = 25
LONGEST_DAYS = 120.0
STEPS = 180
"""Steps of the search that a usual window takes; a longer one only stays longer at the end of the bar."""

NAMED = 3
"""So many values are named in the sentence."""

Progress = Callable[[float], None]
"""Told the share that is done, 0 to 1; may raise to end the work."""


@dataclass(frozen=True, slots=True)
class Window:
    """What the search works on, apart from the store: it may run in a thread of its own."""

    lab: Lab
    log: Log
    since: datetime
    until: datetime


def window_of(lab: Lab, days: float = USUAL_DAYS) -> Window:
    """The last days of the history; raises InputError where they hold no batches."""
    if not 2.0 <= days <= LONGEST_DAYS:
        raise impossible(
            "days", f"{days:g} is not possible", f"give 2 to {LONGEST_DAYS:g}; 20 to 30 are usual"
        )
    until = lab.now()
    log = told(lab, until - timedelta(days=days), until).recommender.log
    if not log.at:
        raise impossible("identification", "no batch was logged in the window", "choose a longer one")
    return Window(lab, log, moment_of(log.at[0]), moment_of(log.at[-1]))


def solve(window: Window, progress: Progress = lambda share: None) -> IdentificationFacts:
    """Fit the plant values of a window; reads nothing from the store."""
    done = 0

    def tick() -> None:
        nonlocal done
        done += 1
        progress(min(0.98, done / STEPS))

    found = identify(window.log, microseconds(window.since), microseconds(window.until), tick=tick)
    return _facts(window, found)


def identification(lab: Lab, *, days: float = USUAL_DAYS) -> IdentificationFacts:
    """Plant values of the last days with their limits, and what the days cannot tell."""
    return solve(window_of(lab, days))


def _facts(window: Window, found: Identification) -> IdentificationFacts:
    lab = window.lab
    values = tuple(_fitted(lab, one) for one in found.values)
    unknown = [inside(one.label) for one in values if not one.identified]
    remarks = [one for one in found.remarks if "cannot be identified" not in one]
    if unknown:
        remarks.insert(0, f"The window does not tell: {', '.join(unknown)}")
    return IdentificationFacts(
        window_from=window.since,
        window_to=window.until,
        results=found.results,
        samples=found.samples,
        misfit=found.misfit,
        values=values,
        acceptable=_acceptable(found),
        acceptable_sd={
            one.name: (one.high - one.low) / (2.0 * STUDENT)
            for one in found.values
            if one.identified and one.name in VALUES
        },
        words=_words(values, found, window),
        remarks=tuple(sentence(one) for one in remarks),
    )


def _acceptable(found: Identification) -> dict[str, float]:
    """What a person may accept: each value that the window tells, the moisture demand as a whole."""
    values = {one.name: one.value for one in found.values if one.identified and one.name in VALUES}
    level = any(one.identified for one in found.values if one.name == "demand_level")
    if found.demand is not None and level:
        values |= {f"demand_{name}": value for name, value in asdict(found.demand).items()}
    return values


def _fitted(lab: Lab, one: Fitted) -> FittedFacts:
    label, unit, decimals, _ = slow_words(lab, one.name)
    agrees = one.low <= one.start <= one.high
    value, low, high, start = (
        format_number(number, decimals, mark=lab.mark) for number in (one.value, one.low, one.high, one.start)
    )
    if not one.identified:
        words = f"cannot be told from this window; {start} stays"
    elif agrees:
        words = f"agrees with {start}, which is assumed"
    else:
        words = f"assumed is {start}: accept {value}?"
    return FittedFacts(
        name=one.name,
        label=label,
        unit=unit,
        value=one.value,
        low=one.low,
        high=one.high,
        start=one.start,
        identified=one.identified,
        proposed=one.value if one.identified and not agrees else None,
        text=f"{value} ({low} to {high})",
        words=words,
    )


def _words(values: tuple[FittedFacts, ...], found: Identification, window: Window) -> str:
    days = (window.until - window.since) / timedelta(days=1)
    differ = [inside(one.label) for one in values if one.proposed is not None]
    basis = f"{found.results} results of {days:.0f} days"
    if not differ:
        return f"{basis} agree with the plant values that are assumed."
    more = f" and {len(differ) - NAMED} more" if len(differ) > NAMED else ""
    return f"{basis} differ from what is assumed in {', '.join(differ[:NAMED])}{more}."
