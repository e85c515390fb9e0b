"""The lab arithmetic: pure functions from raw readings to a result, found by the name the spec files use."""

from sandlab.methods.calibration import Calibration, Mix, calibrate_methylene_blue, read_mixes
from sandlab.methods.indices import moisture_green_strength
from sandlab.methods.mulling import equilibrium_moisture, water_sensitivity
from sandlab.methods.outcome import Outcome
from sandlab.methods.registry import FUNCTIONS, compute, name_problems
from sandlab.methods.repeats import combine
from sandlab.methods.sieve import retained_percent
from sandlab.methods.strength import specimen_area

__all__ = [
    "FUNCTIONS",
    "Calibration",
    "Mix",
    "Outcome",
    "calibrate_methylene_blue",
    "combine",
    "compute",
    "equilibrium_moisture",
    "moisture_green_strength",
    "name_problems",
    "read_mixes",
    "retained_percent",
    "specimen_area",
    "water_sensitivity",
]
