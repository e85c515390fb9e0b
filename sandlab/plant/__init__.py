"""The invented foundry: a simulated sand system that fills the demo and examines the charts."""

from sandlab.plant.faults import DEMO_FAULTS, Fault
from sandlab.plant.history import DEMO_DAYS, DEMO_SEED, ZONE, History, quiet_baseline, simulate
from sandlab.plant.workbook import Sheet, old_workbook

__all__ = [
    "DEMO_DAYS",
    "DEMO_FAULTS",
    "DEMO_SEED",
    "ZONE",
    "Fault",
    "History",
    "Sheet",
    "old_workbook",
    "quiet_baseline",
    "simulate",
]
