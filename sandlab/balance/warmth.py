"""Temperature of the prepared sand over the coming hours, from its own tests and the jobs planned."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt

import numpy as np
import numpy.typing as npt

from sandlab.balance.composition import Floats
from sandlab.balance.heat import discharge_temperature
from sandlab.balance.log import Log
from sandlab.balance.stream import HOUR_US
from sandlab.errors import impossible

MEMORY_H = 12.0  # hours over which weather and pauses let go of the sand's temperature; common practice
LEAST_TESTS = 8
UNTESTED_SD, LEAST_SD = 5.0, 1.0  # C about the usual level without tests, and with however many
NEWEST = 3  # tests that say where it stands now


@dataclass(frozen=True, slots=True)
class Warmth:
    """How warm prepared sand is.

    level: usual temperature at `sand_to_metal` [C]
    ambient: air of the shop [C]
    off: present temperature less the usual one [C]; sd: of single tests about the usual level [C]
    off_sd: of `off` [C]
    cycle_h: hours in which the sand goes round once [h]
    """

    level: float
    sand_to_metal: float
    ambient: float
    off: float
    off_sd: float
    sd: float
    cycle_h: float


def job_temperature(level: float, ambient: float, sand_to_metal: float, other: float) -> float:
    """Temperature of the sand when another job is poured for long.

    ``ambient + (level - ambient) sand_to_metal / other``

    level: temperature at the present sand:metal [C]
    ambient: temperature of the air [C]
    sand_to_metal: present dry sand per metal poured [kg/kg]
    other: dry sand per metal of the other job [kg/kg]
    returns: temperature at the other job [C]

    Shapes: scalars.
    Validity: heat per kg of sand goes with metal per sand; the cooler takes a constant share of the excess.
    Errors: InputError when a sand:metal is not above 0.
    Example:
    >>> job_temperature(40.0, 20.0, 6.0, 4.0)
    50.0

    Source: derived, conservation of energy in a steady loop whose loss is proportional to the excess.
    """
    if not (sand_to_metal > 0.0 and other > 0.0):
        raise impossible("sand:metal", f"{sand_to_metal} and {other}", "give the sand:metal of the jobs")
    return ambient + (level - ambient) * sand_to_metal / other


def warmth(log: Log, at_us: int) -> Warmth:
    """What the tests of sand temperature say up to a time; the specs' usual level where there are too few."""
    plant = log.plant
    muller = plant.muller
    cycle_h = 1000.0 * plant.stock_t / log.usual_dry_kg / plant.batches_per_h
    seen = [
        (taken, value)
        for taken, name, value, _, doubtful in log.results
        if name == "sand_temperature" and taken <= at_us and not doubtful
    ]
    usual = discharge_temperature(muller.return_temperature, muller.ambient_temperature, muller.discharge_eta)
    if len(seen) < LEAST_TESTS:
        ratio, ambient = plant.loop.sand_to_metal, muller.ambient_temperature
        return Warmth(usual, ratio, ambient, 0.0, UNTESTED_SD, UNTESTED_SD, cycle_h)
    values = np.array([value for _, value in seen])
    ratios = [log.way_at(taken).sand_to_metal for taken, _ in seen]
    level, sd = float(values.mean()), max(LEAST_SD, float(values.std(ddof=1)))
    age_h = max(0.0, (at_us - seen[-1][0]) / HOUR_US)
    kept = exp(-age_h / MEMORY_H)
    lab = plant.lab("sand_temperature")
    noise = (lab.sd if lab else LEAST_SD) / sqrt(NEWEST)
    return Warmth(
        level=level,
        sand_to_metal=float(np.mean(ratios)),
        ambient=min(muller.ambient_temperature, level),
        off=kept * (float(values[-NEWEST:].mean()) - level),
        off_sd=sqrt((kept * noise) ** 2 + sd**2 * (1.0 - kept**2)),
        sd=sd,
        cycle_h=cycle_h,
    )


def temperatures(known: Warmth, hours: npt.ArrayLike, sand_to_metal: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Temperature and its sd at hours from now, with the sand:metal that runs then, shape (n,) each [C].

    The level of a new job is reached as the sand goes round; what is off now is forgotten, and doubt grows to
    the spread that the tests have had.
    """
    h = np.asarray(hours, dtype=np.float64)
    ratios = np.broadcast_to(np.asarray(sand_to_metal, dtype=np.float64), h.shape)
    level, levels, before = known.level, np.zeros(h.size), 0.0
    for place, (hour, ratio) in enumerate(zip(h.tolist(), ratios.tolist(), strict=True)):
        aim = job_temperature(known.level, known.ambient, known.sand_to_metal, ratio)
        level += (aim - level) * (1.0 - exp(-(hour - before) / known.cycle_h))
        levels[place], before = level, hour
    kept = np.exp(-h / MEMORY_H)
    sd = np.sqrt((known.off_sd * kept) ** 2 + known.sd**2 * (1.0 - kept**2))
    return levels + known.off * kept, sd
