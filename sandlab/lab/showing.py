"""Values at the border: from the catalogue's unit to the plant's display unit, rounded, and back."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from datetime import datetime, tzinfo

from sandlab.quantities import convert, dimension_of, format_number, shown_in
from sandlab.specs import Property, Specs

BOUNDS_NAMED = 5
MOST_FINER = 6
"""So many decimals more are tried to tell two values apart."""
_WRITTEN = "written "


def display_unit(specs: Specs, key: str) -> str:
    """The unit in which a property is shown and typed at this plant."""
    return shown_in(specs.properties[key].unit, specs.plant.units)


def display_decimals(entry: Property, unit: str) -> int:
    """Decimals that keep the stored unit's printed resolution in another unit."""
    if unit == entry.unit or dimension_of(unit) != "pressure":
        return entry.decimals
    factor = convert(1.0, entry.unit, unit)
    return max(0, entry.decimals - math.floor(math.log10(factor) + 1e-9))


def shown_unit(unit: str) -> str:
    """The unit as printed; numbers without a unit get nothing."""
    return "" if unit == "1" else unit


def to_display(specs: Specs, key: str, value: float) -> float:
    """A stored value in the display unit."""
    return convert(value, specs.properties[key].unit, display_unit(specs, key))


def to_stored(specs: Specs, key: str, value: float) -> float:
    """A typed value in the catalogue's unit."""
    return convert(value, display_unit(specs, key), specs.properties[key].unit)


def width_to_display(specs: Specs, key: str, value: float) -> float:
    """A difference (tolerance, standard deviation) in the display unit; no zero point enters."""
    return to_display(specs, key, value) - to_display(specs, key, 0.0)


def pair_to_display(specs: Specs, key: str, pair: tuple[float, float]) -> tuple[float, float]:
    """A low and a high value in the display unit."""
    return to_display(specs, key, pair[0]), to_display(specs, key, pair[1])


def text_of(specs: Specs, key: str, value: float | None, *, censored: str = "", finer: int = 0) -> str:
    """A stored value as people read it: display unit, decimals, decimal mark, and < or > when censored.

    `finer` adds decimals, for values that have to be told apart.
    """
    if value is None:
        return "-"
    decimals = display_decimals(specs.properties[key], display_unit(specs, key)) + finer
    return censored + format_number(to_display(specs, key, value), decimals, mark=specs.plant.decimal_mark)


def with_unit(specs: Specs, key: str, value: float | None, *, apart_from: float | None = None) -> str:
    """A stored value with its unit; with the decimals that tell it from `apart_from` beside it."""
    text = text_of(specs, key, value)
    for finer in range(1, MOST_FINER if apart_from is not None else 0):
        if text != text_of(specs, key, apart_from, finer=finer - 1):
            break
        text = text_of(specs, key, value, finer=finer)
    return f"{text} {shown_unit(display_unit(specs, key))}".strip()


def clock_text(moment: datetime, zone: tzinfo, now: datetime | None = None) -> str:
    """The local time of day, with the day when it is not today's and the year when it is not this year's."""
    local = moment.astimezone(zone)
    if now is not None and local.date() == now.astimezone(zone).date():
        return f"{local:%H:%M}"
    if now is not None and local.year != now.astimezone(zone).year:
        return f"{local:%a %d %b %Y %H:%M}"
    return f"{local:%a %d %b %H:%M}"


def age_words(minutes: float) -> str:
    """An age in the coarsest unit that still says enough: 25 min, 3 h 10 min, 2 d 4 h."""
    whole = max(0, round(minutes))
    days, rest = divmod(whole, 1440)
    hours, mins = divmod(rest, 60)
    if days:
        return f"{days} d {hours} h" if hours else f"{days} d"
    if hours:
        return f"{hours} h {mins} min" if mins else f"{hours} h"
    return f"{mins} min"


def marked(words: str, mark: str) -> str:
    """Words of the charts, which write a decimal point, with the plant's decimal mark."""
    return re.sub(r"(?<=\d)\.(?=\d)", mark, words)


def bound_flag(text: str) -> str:
    """The flag of a plotted value that was written as a bound, such as <0.5."""
    return f"{_WRITTEN}{text}: counts as {text[1:].strip()}"


def bound_of(flags: Iterable[str]) -> str:
    """The bound that a plotted value was written as, from its flags; empty for a plain value."""
    found = (
        flag.removeprefix(_WRITTEN) for flag in flags if flag.startswith((f"{_WRITTEN}<", f"{_WRITTEN}>"))
    )
    return next(found, "").partition(":")[0]


def bounds_words(bounds: Sequence[str], name: str = "") -> str:
    """That values were written as bounds, as a sentence that can follow another; empty where none was."""
    if not bounds:
        return ""
    more = len(bounds) - BOUNDS_NAMED
    told = ", ".join(bounds[:BOUNDS_NAMED]) + (f" and {more} more" if more > 0 else "")
    of = f" of {name}" if name else ""
    if len(bounds) == 1:
        return f" 1 value{of} is only a bound and counts as the number written: {told}."
    return f" {len(bounds)} values{of} are only bounds and count as the numbers written: {told}."


def sentence(words: str) -> str:
    """Words as a sentence: a capital at the start, one full stop at the end."""
    return f"{words[:1].upper()}{words[1:].rstrip('.')}."
