"""The state of a property in the few words that fit under a small chart."""

from __future__ import annotations

from sandlab import charts
from sandlab.lab.facts import ChartState
from sandlab.lab.opening import Lab
from sandlab.lab.series import Series
from sandlab.lab.showing import age_words
from sandlab.lab.sources import age_min
from sandlab.quantities import format_number


def brief(lab: Lab, series: Series, state: ChartState, found: charts.Description) -> str:
    """What has changed since when, or what is missing; empty where the state's own word says it all."""
    if state == "past_reaction_limit":
        shown = format_number(series.points[-1].value, series.decimals, mark=lab.mark)
        return f"{shown} {series.unit} is past a reaction limit".replace("  ", " ")
    if found.when is not None:
        what = found.what.removeprefix(f"{series.label} has been ").replace("drifting", "drifts")
        return f"{what} {found.since.split(' (')[0]}"
    if state == "signal" and found.chart.latest_alarm is not None:
        return f"signal: {found.chart.latest_alarm.reason}"
    if state == "stale":
        return f"last test {age_words(age_min(lab, series))} ago"
    if state == "too_few" and series.count:
        return f"{series.count} of {charts.MINIMUM_BASELINE} tests"
    return {"no_baseline": "no limits frozen", "too_few": "not tested yet"}.get(state, "")
