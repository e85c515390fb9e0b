"""How long charts run between alarms: numerical solutions of the run-length equations."""

from sandlab.charts.run_length.individuals import AlarmRate, individuals_alarm_rate_ar1

__all__ = ["AlarmRate", "individuals_alarm_rate_ar1"]
