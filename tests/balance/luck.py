"""What is drawn for one small foundry, and over which ranges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Luck:
    """What is drawn for one plant; disturbances as (start, length) in running hours, None for none."""

    clay_wear: float = 0.33
    carbon_wear: float = 1.1
    line: int = 25
    cells: int = 4
    bunker_kg: float = 80_000.0
    retention: float = 0.6
    dust_fines: float = 0.08
    slope: float = 27.0
    demand: tuple[float, float, float, float] = (0.3, 0.30, 0.14, 0.12)
    return_sd: float = 0.16
    return_memory: float = 60.0
    probe_sd: float = 0.07
    feed_sd: float = 0.02
    feed_memory: float = 600.0
    bond: float = 0.5
    operator: float = 0.06
    drift: tuple[float, float] | None = None
    supplier: float | None = None
    hot: tuple[float, float] | None = None
    mix: float | None = None
    missed: float = 0.05
    late: float = 0.05


def lucky(seed: int, *, disturbed: bool = True, hours: float = 1500.0) -> Luck:
    """One plant of the published and usual ranges."""
    g = np.random.default_rng([77, seed])
    u = g.uniform
    luck = {
        "clay_wear": u(0.25, 0.40),
        "carbon_wear": u(0.7, 1.5),
        "line": int(g.integers(15, 35)),
        "cells": int(g.integers(2, 6)),
        "bunker_kg": u(55e3, 105e3),
        "retention": u(0.4, 0.8),
        "dust_fines": u(0.05, 0.11),
        "slope": u(20, 35),
        "demand": (u(0.0, 0.6), u(0.2, 0.42), u(0.1, 0.2), u(0.08, 0.16)),
        "return_sd": u(0.10, 0.22),
        "return_memory": u(30, 120),
        "probe_sd": u(0.04, 0.10),
        "feed_sd": u(0.01, 0.03),
        "feed_memory": u(200, 1200),
        "bond": u(0.4, 0.6),
        "operator": u(0.03, 0.10),
    }
    if disturbed:
        luck |= {
            "drift": (u(0.1, 0.6) * hours, u(100, 400)),
            "supplier": u(0.2, 0.9) * hours,
            "hot": (u(0.1, 0.9) * hours, u(40, 120)),
            "mix": u(0.2, 0.9) * hours,
        }
    return Luck(**luck)
