"""The closed loop: plants drawn over the published ranges, run batch by batch under somebody's additions."""

from sandlab.plant.closed.line import FEEDERS, Case, Line, draw_case
from sandlab.plant.closed.papers import Papers
from sandlab.plant.closed.upsets import SCENARIOS

__all__ = ["FEEDERS", "SCENARIOS", "Case", "Line", "Papers", "draw_case"]
