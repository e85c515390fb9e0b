"""Mass, heat and water balance of the sand that learns the plant, and the additions it recommends.

Arrays and frozen values in, frozen results out; knows nothing of specs, records, disk, clock or screens.
"""

from sandlab.balance.answer import CAUTION, Addition, Evidence, Miss, Part
from sandlab.balance.composition import COMPONENTS
from sandlab.balance.inputs import Feeder, Muller, Target
from sandlab.balance.loop import Loop
from sandlab.balance.materials import Material
from sandlab.balance.recommender import Recommender
from sandlab.balance.stream import PlantModel, Recommendation
from sandlab.balance.temper import DemandFit
from sandlab.balance.voice import Voice

__all__ = [
    "CAUTION",
    "COMPONENTS",
    "Addition",
    "DemandFit",
    "Evidence",
    "Feeder",
    "Loop",
    "Material",
    "Miss",
    "Muller",
    "Part",
    "PlantModel",
    "Recommendation",
    "Recommender",
    "Target",
    "Voice",
]
