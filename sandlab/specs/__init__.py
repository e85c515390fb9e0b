"""The spec files as checked, frozen models."""

from sandlab.specs.catalogue import Material, Method, Property, Reaction, ReadingSpec, Repeats
from sandlab.specs.instruments import Instrument
from sandlab.specs.loading import from_canonical, load
from sandlab.specs.models import Specs
from sandlab.specs.system import Feeder, Loop, Muller, System, Target, TestSet

__all__ = [
    "Feeder",
    "Instrument",
    "Loop",
    "Material",
    "Method",
    "Muller",
    "Property",
    "Reaction",
    "ReadingSpec",
    "Repeats",
    "Specs",
    "System",
    "Target",
    "TestSet",
    "from_canonical",
    "load",
]
