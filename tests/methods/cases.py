"""Calls whose arguments a TOML table cannot write down."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sandlab.methods import Calibration, Mix, calibrate_methylene_blue, read_mixes


def mix_share(nominal_percent: float, basis: str, mass_g: float) -> Mix:
    """A calibration mix that has not been titrated yet."""
    return Mix(nominal_percent, basis, mass_g, titre_ml=0.0)


def calibrate(mixes: Sequence[Mapping[str, Any]], sample_g: float, through_zero: bool) -> Calibration:
    """The calibration of mixes given as tables."""
    return calibrate_methylene_blue(read_mixes(mixes), sample_g=sample_g, through_zero=through_zero)
