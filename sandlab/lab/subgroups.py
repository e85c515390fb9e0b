"""Means of subgroups with the spread inside each: repeats of one sample, or groups of a table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sandlab import charts
from sandlab.charts.subgroups import Spread
from sandlab.errors import InputError
from sandlab.lab.facts import DrawnFacts, SignalFacts, SubgroupFacts
from sandlab.lab.kinds import KIND_WORDS, SUBGROUPS, Shown
from sandlab.lab.series import Floats, Series
from sandlab.lab.showing import sentence
from sandlab.quantities import format_number

SPREAD_WORDS: dict[Spread, str] = {"range": "range", "deviation": "standard deviation"}


def subgroup_shown(
    series: Series, table: Floats, window: Floats, *, spread: Spread, repeats: bool, mark: str
) -> Shown:
    """The means of a table's rows, one per point of the series, against limits from the rows of `window`.

    What cannot be drawn is said in words.
    """
    name = _capital(KIND_WORDS[SUBGROUPS])
    if not window.size:
        return Shown(f"{name}: freeze limits first.", None, ())
    try:
        limits = charts.freeze_subgroups(window, basis=spread, repeats=repeats)
        return _Maker(
            series, limits, charts.subgroup_chart(table, limits, spread=spread), repeats, mark
        ).shown()
    except InputError as error:
        return Shown(f"{name}: {error.problems[0]}.", None, ())


@dataclass(frozen=True, slots=True)
class _Maker:
    """Puts one computed chart into facts."""

    series: Series
    limits: charts.SubgroupLimits
    chart: charts.SubgroupChart
    repeats: bool
    mark: str

    def shown(self) -> Shown:
        """Both charts, their signals, and the words."""
        chart, series = self.chart, self.series
        means = self._drawn(
            f"{series.label}, means",
            (chart.means, chart.mean_lower, chart.mean_upper),
            self.limits.centre,
            self._design(),
        )
        name = SPREAD_WORDS[chart.spread]
        spreads = self._drawn(
            f"{series.label}, {name} inside each",
            (chart.spreads, chart.spread_lower, chart.spread_upper),
            float(chart.spread_centre[-1]),
            f"The {name} inside each {self._one}; a {self._one} of one test has none.",
        )
        found = [self._signal("subgroup", "mean", means, place) for place in chart.mean_beyond]
        found += [self._signal("spread", name, spreads, place) for place in chart.spread_beyond]
        found.sort(key=lambda one: one.index)
        return Shown(self._words(found), means, tuple(found), self._facts(spreads))

    @property
    def _one(self) -> str:
        return "sample" if self.repeats else "subgroup"

    def _design(self) -> str:
        limits = self.limits
        sizes = np.unique(self.chart.sizes[self.chart.sizes > 0])
        each = f"{sizes[0]}" if sizes.size == 1 else f"{sizes[0]} to {sizes[-1]}"
        between = (
            f", {self._number(limits.sigma_between, 2)} from sample to sample, which the limits hold"
            if self.repeats
            else ""
        )
        return (
            f"Means of {each} tests, limits from {limits.subgroups} {self._one}s; standard deviation "
            f"{self._number(limits.sigma, 2)} inside a {self._one}{between}"
        )

    def _drawn(
        self, title: str, rows: tuple[Floats, Floats, Floats], centre: float, design: str
    ) -> DrawnFacts:
        """Values and limits by point."""
        values, lower, upper = rows
        vary = bool(np.ptp(upper) > 1e-9 * max(1.0, float(np.abs(upper).max())))
        tail = "; the limits of the last one are drawn, those of other sizes differ" if vary else ""
        return DrawnFacts(
            title=title,
            unit=self.series.unit,
            decimals=self.series.decimals + 1,
            values=tuple(float(one) if np.isfinite(one) else None for one in values),
            centre=centre,
            lower=float(lower[-1]),
            upper=float(upper[-1]),
            limits_vary=vary,
            lower_at=tuple(lower.tolist()) if vary else (),
            upper_at=tuple(upper.tolist()) if vary else (),
            design=f"{design.rstrip('.')}{tail}.",
        )

    def _signal(self, rule: str, what: str, drawn: DrawnFacts, place: int) -> SignalFacts:
        value = drawn.values[place] or 0.0
        lower = drawn.lower_at[place] if drawn.limits_vary else drawn.lower or 0.0
        upper = drawn.upper_at[place] if drawn.limits_vary else drawn.upper or 0.0
        up = value > (upper or 0.0)
        side, where, name = ("up", "above", "upper") if up else ("down", "below", "lower")
        shown, limit = self._number(value, 1), self._number((upper if up else lower) or 0.0, 2)
        return SignalFacts(
            rule=rule,
            alarm=True,
            at=self.series.points[place].at,
            index=place,
            members=(place,),
            side=side,
            reason=f"{what} {shown} is {where} the {name} limit {limit} {self.series.unit}".rstrip(),
        )

    def _words(self, found: list[SignalFacts]) -> str:
        name, count = _capital(KIND_WORDS[SUBGROUPS]), self.series.count
        now = [one for one in found if one.index == count - 1]
        if now:
            return f"{name}: {'; '.join(one.reason for one in now)} at the last {self._one}."
        if not found:
            return f"{name}: means and spread inside their limits in all {count} {self._one}s."
        last = found[-1]
        ago = count - 1 - last.index
        times = "once" if len(found) == 1 else f"{len(found)} times"
        return f"{name}: inside their limits now, outside {times}; {ago} {self._one}s ago {last.reason}."

    def _facts(self, spreads: DrawnFacts) -> SubgroupFacts:
        limits = self.limits
        return SubgroupFacts(
            subgroups=limits.subgroups,
            count=limits.count,
            sizes=tuple(self.chart.sizes.tolist()),
            centre=limits.centre,
            sigma=limits.sigma,
            sigma_between=limits.sigma_between if self.repeats else None,
            basis=limits.basis,
            spread=spreads,
            warnings=tuple(sentence(self._warning(flag)) for flag in limits.flags),
        )

    def _warning(self, flag: charts.SubgroupFlag) -> str:
        return charts.SUBGROUP_FLAG_WORDS[flag]

    def _number(self, value: float, more: int) -> str:
        return format_number(value, self.series.decimals + more, mark=self.mark)


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]
