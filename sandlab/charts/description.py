"""What a chart shows, words first: what has changed, since when, by how much, how sure, how often wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sandlab.charts.baseline import Limits
from sandlab.charts.changepoint import Change, ChangePoint, change_point
from sandlab.charts.ewma import EwmaChart, ewma
from sandlab.charts.false_alarms import ChartInUse, FalseAlarms, false_alarms
from sandlab.charts.individuals import IndividualsChart, individuals
from sandlab.charts.normal import Floats
from sandlab.charts.residuals import KnownResemblance, residuals
from sandlab.charts.rules import RULES
from sandlab.charts.run_length.simulation import Random
from sandlab.charts.words import about
from sandlab.quantities import format_number

DescriptionState = Literal["too few", "no baseline", "in control", "signal", "step", "drift"]

# One odd test, however far out, is no lasting change: it counts up to this many sigmas in the average.
_FARTHEST = 4.0
# Log-likelihoods closer than this leave open whether a change is a step or a drift.
_ALIKE = 2.0
_LARGEST_PHI = 0.99
_DAY_US = 86_400_000_000


@dataclass(frozen=True, slots=True)
class When:
    """Start of a change and the range it may have begun in: moments in us, without times numbers of tests."""

    start: int
    low: int
    high: int


@dataclass(frozen=True, slots=True, eq=False)
class Description:
    """The words, part by part, and the figures behind them.

    `sentence` joins `what`, `since`, `amount` and `wrong`; `sure` stands apart. `size` is what a lasting
    change has come to by the last test, with its 95 % interval; `average` is the EWMA that found it, of
    residuals in deviations where tests resemble each other.
    """

    state: DescriptionState
    what: str
    since: str
    amount: str
    sure: str
    wrong: str
    sentence: str
    when: When | None
    size: float | None
    size_low: float | None
    size_high: float | None
    change: ChangePoint | None
    chart: IndividualsChart
    average: EwmaChart | None
    alarms: FalseAlarms | None


def describe(
    values: npt.ArrayLike,
    times_us: npt.ArrayLike | None,
    limits: Limits | None,
    *,
    name: str = "The property",
    unit: str = "",
    decimals: int = 2,
    when: Callable[[When], str] | None = None,
    rules: Iterable[str] | None = None,
    alarms: Iterable[str] | None = None,
    phi: float | None = None,
    signal_share: float = 1.0,
    weight: float = 0.2,
    width: float = 2.86,
    wrong: str | None = None,
    random: Random | None = None,
) -> Description:
    """Chart, lasting change and false alarms of one property, in words.

    values: one per slot up to the present, NaN where missing [unit of the property]
    times_us: when each was taken, ascending, or None [us]
    limits: frozen baseline, None without one [unit of the property]
    name: of the property, to begin the sentence with [word]
    unit: behind the numbers [word]
    decimals: of the numbers [1]
    when: puts a start and its range into words, such as "Tue 14:00 (13:00-17:00)" [word]
    rules: keys of the rules shown, None for all [word]
    alarms: keys of the rules that alarm, None for those that do by default [word]
    phi: autocorrelation over one slot, None for that of the baseline where it is flagged [1]
    signal_share: of the variance of tests that resembles, the rest being noise of testing, 0 to 1 [1]
    weight: of the newest test in the average that looks for lasting changes, 0.005 to 1 [1]
    width: of the average's limits in its sigmas, 0.5 to 5 [1]
    wrong: how often all charts in use are wrong, in words (`alarms` is None then); None for this one [word]
    random: a numpy Generator for alarm rules without a run-length equation [1]
    returns: words, figures and charts [unit of the property]

    A change is lasting when the average is outside its limits at the last test: then the better of a step and
    a ramp dates it. Raises InputError as `individuals` and `false_alarms` do.
    """
    keys = tuple(key for key, rule in RULES.items() if rule.alarms) if alarms is None else tuple(alarms)
    chart = individuals(values, times_us, limits, rules=rules, alarms=keys, decimals=decimals, unit=unit)
    measured = np.flatnonzero(~np.isnan(chart.values))
    if limits is None or chart.state in ("no baseline", "too few"):
        return _plain(chart, f"{name}: {_lower(chart.sentence)}")
    carry = min(_LARGEST_PHI, _baseline_phi(limits) if phi is None else phi)
    average = _average(chart.values, limits, carry, signal_share, weight, width)
    in_use = ChartInUse(
        name=name,
        tests_per_day=_tests_per_day(chart.times_us, measured),
        rules=keys,
        width=limits.width,
        phi=carry,
        signal_share=signal_share,
        baseline_count=limits.behind,
        basis=limits.basis,
        ewma=(weight, width),
    )
    # What is wrong how often need not be solved where the caller says it for all charts.
    rate = false_alarms([in_use], random=random) if wrong is None else None
    said = _wrong(rate, chart.times_us) if rate is not None else wrong or ""
    words = _Words(name, unit, decimals, when, said)
    lasting = measured.size > 1 and int(measured[-1]) in average.beyond
    found = change_point(chart.values, limits, phi=signal_share * carry) if lasting else None
    if found is None or found.best.start == measured[-1]:
        return words.single(chart, average, rate)
    return words.lasting(chart, average, rate, found)


def _baseline_phi(limits: Limits) -> float:
    """The baseline's autocorrelation where it is more than chance."""
    return max(0.0, limits.lag1) if "autocorrelated" in limits.flags else 0.0


def _average(
    values: Floats, limits: Limits, phi: float, signal_share: float, weight: float, width: float
) -> EwmaChart:
    """The EWMA of tests, or of their residuals where they resemble each other, odd ones drawn in."""
    if phi == 0.0:
        drawn = np.clip(values, limits.line(-_FARTHEST), limits.line(_FARTHEST))
        return ewma(drawn, limits, weight=weight, width=width)
    model = KnownResemblance(phi, limits.centre, limits.sigma, limits.count, signal_share)
    found = np.clip(residuals(values, model)[0], -_FARTHEST, _FARTHEST)
    return ewma(found, Limits(0.0, 1.0, limits.count, 1.0, 1.0, 0.0), weight=weight, width=width)


def _tests_per_day(times: npt.NDArray[np.int64] | None, measured: npt.NDArray[np.intp]) -> float:
    """Tests a day over the span of the chart; one a day stands for one test without times."""
    if times is None or measured.size < 2:
        return 1.0
    return (measured.size - 1) * _DAY_US / float(times[measured[-1]] - times[measured[0]])


def _wrong(rate: FalseAlarms, times: npt.NDArray[np.int64] | None) -> str:
    """How often this chart is wrong, by days with times, else by tests: then what is counted is said too."""
    if times is not None:
        return _lower(rate.sentence).rstrip(".")
    alone = rate.charts[0]
    words = f"limits and moving average together alarm falsely about once in {about(alone.tests)} tests"
    ends = alone.tests_low, alone.tests_high
    if ends[1] <= 1.001 * ends[0]:
        return words
    return f"{words} ({about(ends[0])} to {about(ends[1])}: limits from few tests are uncertain)"


def _lower(sentence: str) -> str:
    return sentence[0].lower() + sentence[1:]


def _plain(
    chart: IndividualsChart, what: str, *, average: EwmaChart | None = None, rate: FalseAlarms | None = None,
    wrong: str = "",
) -> Description:  # fmt: skip
    """A description without a lasting change."""
    sentence = _ended(what.rstrip("."), wrong)
    return Description(
        chart.state, what, "", "", "", wrong, sentence, None, None, None, None, None, chart, average, rate
    )


def _ended(stem: str, wrong: str) -> str:
    """A sentence that ends with how often it is wrong, where that is said."""
    return f"{stem}; {wrong}." if wrong else f"{stem}."


@dataclass(frozen=True, slots=True)
class _Words:
    """Puts what was found into words."""

    name: str
    unit: str
    decimals: int
    when: Callable[[When], str] | None
    wrong: str

    def single(self, chart: IndividualsChart, average: EwmaChart, rate: FalseAlarms | None) -> Description:
        """No lasting change: in control, or a signal of single tests."""
        link = " is " if chart.state == "in control" else ": "
        what = f"{self.name}{link}{_lower(chart.sentence)}"
        return _plain(chart, what, average=average, rate=rate, wrong=self.wrong)

    def lasting(
        self, chart: IndividualsChart, average: EwmaChart, rate: FalseAlarms | None, found: ChangePoint
    ) -> Description:
        """A step or a drift that lasts to the last test."""
        best, alike = found.best, abs(found.step.support - found.ramp.support) < _ALIKE
        moment = _moment(found, alike, chart.times_us)
        shapes = (found.step, found.ramp) if alike else (best,)
        size_low = min(shape.come_to_low for shape in shapes)
        size_high = max(shape.come_to_high for shape in shapes)
        size = best.come_to
        side = "up" if size > 0.0 else "down"
        if best.shape == "ramp":
            what, amount = f"{self.name} has been drifting {side}", f"{self._number(abs(size))} so far"
        else:
            level = "higher" if side == "up" else "lower"
            what, amount = f"{self.name} has been {level}", f"by {self._number(abs(size))}"
        low, high = (size_low, size_high) if size > 0.0 else (-size_high, -size_low)
        amount += f" ({format_number(max(0.0, low), self.decimals)} to {format_number(high, self.decimals)})"
        since = f"since {self._when(moment, chart.times_us is not None)}"
        return Description(
            state="drift" if best.shape == "ramp" else "step",
            what=what,
            since=since,
            amount=amount,
            sure=_sure(best, alike),
            wrong=self.wrong,
            sentence=_ended(f"{what} {since}, {amount}", self.wrong),
            when=moment,
            size=size,
            size_low=size_low,
            size_high=size_high,
            change=found,
            chart=chart,
            average=average,
            alarms=rate,
        )

    def _number(self, value: float) -> str:
        text = format_number(value, self.decimals)
        return f"{text} {self.unit}" if self.unit else text

    def _when(self, moment: When, timed: bool) -> str:
        if self.when is not None:
            return self.when(moment)
        start = f"{moment.start} us" if timed else f"test {moment.start}"
        return start if moment.low == moment.high else f"{start} ({moment.low} to {moment.high})"


def _moment(found: ChangePoint, alike: bool, times: npt.NDArray[np.int64] | None) -> When:
    """Start and range, over both shapes where they are as likely; as moments, or numbers of tests from 1."""
    shapes = (found.step, found.ramp) if alike else (found.best,)
    places = [place for shape in shapes for place in shape.may_begin]
    start, low, high = found.best.start, min(places), max(places)
    if times is None:
        return When(start + 1, low + 1, high + 1)
    return When(int(times[start]), int(times[low]), int(times[high]))


def _sure(best: Change, alike: bool) -> str:
    shape, other = ("drift", "step") if best.shape == "ramp" else ("step", "drift")
    if alike:
        return f"a {shape} fits best, but the tests cannot tell it from a {other} yet"
    return f"the tests speak for a {shape}; it began in that range about 9 times in 10"
