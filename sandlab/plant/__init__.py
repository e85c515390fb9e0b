"""The invented foundry: a simulated sand system that fills the demo and examines the charts."""

from sandlab.plant.faults import DEMO_FAULTS, Fault
from sandlab.plant.history import ZONE, History, quiet_baseline, simulate

__all__ = ["DEMO_FAULTS", "ZONE", "Fault", "History", "quiet_baseline", "simulate"]
