"""Mass, heat and water balance of the sand, and the additions it recommends.

Arrays and frozen values in, frozen results out; knows nothing of specs, records, disk, clock or screens.
"""

from sandlab.balance.advice import advise
from sandlab.balance.answer import CAUTION, Addition, Advice, Evidence, Expected, Miss, Part
from sandlab.balance.composition import COMPONENTS
from sandlab.balance.inputs import AdviceInputs, Feeder, Muller, Reading, Target, TemperTest
from sandlab.balance.loop import Loop
from sandlab.balance.materials import Material
from sandlab.balance.temper import DemandFit

__all__ = [
    "CAUTION",
    "COMPONENTS",
    "Addition",
    "Advice",
    "AdviceInputs",
    "DemandFit",
    "Evidence",
    "Expected",
    "Feeder",
    "Loop",
    "Material",
    "Miss",
    "Muller",
    "Part",
    "Reading",
    "Target",
    "TemperTest",
    "advise",
]
