"""The same tests on another chart: moving average, sums, residuals, or limits widened for resemblance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from sandlab import charts
from sandlab.errors import InputError, impossible
from sandlab.lab.designs import Design
from sandlab.lab.facts import ChartKind, DrawnFacts, SignalFacts, SubgroupFacts
from sandlab.lab.series import Floats, Series
from sandlab.lab.showing import marked
from sandlab.quantities import format_number

KINDS: tuple[ChartKind, ...] = ("individuals", "ewma", "cusum", "residual", "wide")
# Only where a sample has repeats, or a table names its groups.
SUBGROUPS: ChartKind = "subgroup"
KIND_WORDS: dict[ChartKind, str] = {
    "individuals": "single tests",
    "ewma": "moving average (EWMA)",
    "cusum": "sums of departures (CUSUM)",
    "residual": "differences from what was expected",
    "wide": "limits widened for tests that resemble each other",
    "subgroup": "means of subgroups",
}


@dataclass(frozen=True, slots=True)
class Shown:
    """What a kind of chart shows: its words, what is drawn instead of the tests, signals and subgroups."""

    words: str
    drawn: DrawnFacts | None
    signals: tuple[SignalFacts, ...]
    subgroup: SubgroupFacts | None = None


def other_kind(series: Series, window: Floats, kind: ChartKind, design: Design, *, mark: str) -> Shown:
    """A series on another kind of chart; what cannot be drawn is said in words.

    `window` are the values that the limits come from, which tell how tests resemble each other. Single tests
    need nothing drawn instead of them.
    """
    if kind == "individuals":
        return Shown("", None, ())
    if kind == SUBGROUPS:
        raise impossible(kind, "is a chart of repeats or of named groups", "name the column of the groups")
    limits = series.limits
    if limits is None or not limits.usable or not series.count:
        return Shown(f"{_capital(KIND_WORDS[kind])}: needs limits first.", None, ())
    makers: dict[ChartKind, Callable[[_Maker], Shown]] = {
        "ewma": _Maker.ewma,
        "cusum": _Maker.cusum,
        "residual": _Maker.residual,
        "wide": _Maker.wide,
    }
    try:
        return makers[kind](_Maker(series, limits, resemblance(window, limits), design, mark))
    except InputError as error:
        return Shown(f"{_capital(KIND_WORDS[kind])}: {error.problems[0]}.", None, ())


def resemblance(window: Floats, limits: charts.Limits) -> charts.KnownResemblance:
    """How tests around the frozen level resemble each other; independent where nothing shows."""
    phi, share = fitted(window.tobytes())
    return charts.KnownResemblance(phi, limits.centre, limits.sigma, limits.count, share)


@lru_cache(maxsize=64)
def fitted(window: bytes) -> tuple[float, float]:
    """Autocorrelation of the sand's own changes and their share of the variance; kept for each baseline."""
    try:
        fit = charts.fit_noisy_autoregression(np.frombuffer(window, dtype=np.float64))
    except InputError:
        return 0.0, 1.0
    if not fit.significant:
        return 0.0, 1.0
    return min(0.99, max(-0.99, fit.phi)), fit.signal_share


@dataclass(frozen=True, slots=True)
class _Maker:
    """Makes each kind from one series."""

    series: Series
    limits: charts.Limits
    model: charts.KnownResemblance
    design: Design
    mark: str

    def ewma(self) -> Shown:
        """The moving average, with limits that allow for resemblance where there is any."""
        series = self.series
        weight, width, said = self.design.average()
        if self.model.phi:
            chart = charts.autocorrelated_ewma(series.values, self.model, weight=weight, width=width)
            said = (
                f"Weight {weight:.2f}, limits {width:.2f} sigmas of the average, which allow for "
                f"autocorrelation {self._number(self.model.phi, 2)}"
            )
        else:
            chart = charts.ewma(series.values, self.limits, weight=weight, width=width)
        rows = (chart.average, chart.lower, chart.upper)
        title, decimals = f"{series.label}, moving average", series.decimals + 1
        drawn = self._drawn(title, series.unit, decimals, rows, self.limits.centre, said)
        return self._shown("ewma", drawn, chart.beyond)

    def cusum(self) -> Shown:
        """The larger of both sums, the lower one drawn below zero; of residuals where tests resemble."""
        series = self.series
        reference, decision, reached = self.design.sums()
        values, limits, of = series.values, self.limits, "The"
        if self.model.phi:
            values, limits = charts.residuals(values, self.model)[0], _standard(self.limits)
            of = "Of residuals, because neighbouring tests resemble each other; the"
        chart = charts.cusum(values, limits, reference=reference, decision=decision)
        larger = np.where(chart.upper >= chart.lower, chart.upper, -chart.lower)
        edge = np.full(larger.size, decision)
        said = f"{of} larger sum is drawn, the lower one below zero; {reached}"
        title = f"{series.label}, sums"
        drawn = self._drawn(title, "sigmas", 1, (larger, -edge, edge), 0.0, said)
        return self._shown("cusum", drawn, tuple(sorted({*chart.high, *chart.low})))

    def residual(self) -> Shown:
        """What each test differs from its prediction."""
        chart = charts.residual_chart(self.series.values, self.model)
        edge = np.full(chart.residuals.size, 3.0)
        kept = self._number(100.0 * self.model.phi, 0)
        said = (
            f"Each test less what those before made expected ({kept} % of a departure stays until the next)"
            if self.model.phi
            else "Tests look independent: these are the tests themselves, in deviations"
        )
        drawn = self._drawn(
            f"{self.series.label}, residuals", "deviations", 1, (chart.residuals, -edge, edge), 0.0,
            f"{said}; limits of 3 deviations alarm falsely once in 370 tests",
        )  # fmt: skip
        places = tuple(one.index for one in chart.single.signals)
        return self._shown("residual", drawn, places)

    def wide(self) -> Shown:
        """Single tests between limits so wide that false alarms are as rare as wanted."""
        series = self.series
        wide = replace(
            charts.widened_limits(self.model, run_length=self.design.once_in),
            floor=self.limits.floor,
            ceiling=self.limits.ceiling,
        )
        chart = charts.individuals(series.values, None, wide, rules=("beyond_limit",))
        edges = (np.full(series.values.size, wide.lower), np.full(series.values.size, wide.upper))
        drawn = self._drawn(
            f"{series.label}, widened limits", series.unit, series.decimals, (series.values, *edges),
            wide.centre,
            f"Limits {wide.width:.2f} standard deviations wide: single tests alarm falsely once in "
            f"{self.design.once_in:.0f}",
        )  # fmt: skip
        return self._shown("wide", drawn, tuple(one.index for one in chart.signals))

    def _drawn(
        self,
        title: str,
        unit: str,
        decimals: int,
        rows: tuple[Floats, Floats, Floats],
        centre: float,
        design: str,
    ) -> DrawnFacts:
        """Values and limits by point."""
        measured = self.series.places >= 0
        values, lower, upper = (row[measured] for row in rows)
        vary = bool(np.ptp(upper) > 1e-9 * max(1.0, float(np.abs(upper).max())))
        tail = "; the last limits are drawn, earlier ones differ" if vary else ""
        return DrawnFacts(
            title=title,
            unit=unit,
            decimals=decimals,
            values=_plain(values),
            centre=centre,
            lower=float(lower[-1]),
            upper=float(upper[-1]),
            limits_vary=vary,
            lower_at=_plain(lower) if vary else (),
            upper_at=_plain(upper) if vary else (),
            design=marked(f"{design.rstrip('.')}{tail}.", self.mark),
        )

    def _shown(self, kind: ChartKind, drawn: DrawnFacts, beyond: tuple[int, ...]) -> Shown:
        """Signals where the chart goes beyond its limits, one for each time it does, and the words."""
        places = self.series.places
        rows = [int(places[slot]) for slot in beyond if places[slot] >= 0]
        first = [row for place, row in enumerate(rows) if place == 0 or rows[place - 1] != row - 1]
        found = tuple(self._signal(kind, drawn, row) for row in first)
        name = _capital(KIND_WORDS[kind])
        newest = self.series.count - 1
        if newest in rows:
            since = max(row for row in first if row <= newest)
            words = f"{name}: {self._signal(kind, drawn, since).reason}, and still is."
        elif found:
            times = "once" if len(found) == 1 else f"{len(found)} times"
            words = f"{name}: inside its limits now, outside {times} in these {self.series.count} tests."
        else:
            words = f"{name}: inside its limits in all {self.series.count} tests."
        return Shown(words, drawn, found)

    def _signal(self, kind: ChartKind, drawn: DrawnFacts, row: int) -> SignalFacts:
        value = drawn.values[row]
        lower = drawn.lower_at[row] if drawn.limits_vary else drawn.lower
        upper = drawn.upper_at[row] if drawn.limits_vary else drawn.upper
        up = value is not None and upper is not None and value > upper
        shown = self._number(value, drawn.decimals)
        limit = self._number(upper if up else lower, drawn.decimals + 1)
        side, place, name = ("up", "above", "upper") if up else ("down", "below", "lower")
        return SignalFacts(
            rule=kind,
            alarm=True,
            at=self.series.points[row].at,
            index=row,
            members=(row,),
            side=side,
            reason=f"{shown} is {place} the {name} limit {limit} {drawn.unit}".rstrip(),
        )

    def _number(self, value: float | None, decimals: int) -> str:
        return format_number(value, decimals, mark=self.mark)


def _standard(limits: charts.Limits) -> charts.Limits:
    """Limits of residuals, which are in deviations."""
    return charts.Limits(0.0, 1.0, limits.count, 1.0, 1.0, 0.0)


def _plain(row: Floats) -> tuple[float | None, ...]:
    return tuple(float(one) if np.isfinite(one) else None for one in row)


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]
