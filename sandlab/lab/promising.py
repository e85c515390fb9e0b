"""What the limits of a baseline promise: when a first false alarm comes, and the width that would be safe."""

from __future__ import annotations

from sandlab import charts
from sandlab.lab.facts import PromiseFacts
from sandlab.quantities import format_number

# Limits are measured by those that alarm once in so many tests.
WANTED = 370.4


def promise(limits: charts.Limits, *, mark: str = ".") -> tuple[PromiseFacts, tuple[str, ...]]:
    """Run lengths that limits from so many tests really have, and the width that would guarantee one.

    Points beyond the limits alone are counted. Tests that resemble each other count as fewer.
    """
    worth = _worth(limits)
    often = charts.baseline_run_length(worth, width=limits.width, basis=limits.basis)
    first = charts.individuals_run_length_distribution(_phi(limits), limits.width)
    width = charts.guaranteed_width(worth, run_length=WANTED, basis=limits.basis)
    facts = PromiseFacts(
        count=limits.count,
        worth=worth,
        width=limits.width,
        tests=often.median,
        tests_low=often.low,
        tests_high=often.high,
        first=first.median,
        first_low=first.quantile(0.05),
        first_high=first.quantile(0.95),
        guaranteed_width=width,
        guaranteed_tests=WANTED,
    )

    def shown(value: float, decimals: int = 2) -> str:
        return format_number(value, decimals, mark=mark)

    alike = "" if worth == limits.count else f", worth about {worth} independent ones"
    ends = [f"{float(f'{one:.2g}'):.0f}" for one in (facts.first, facts.first_low, facts.first_high)]
    return facts, (
        f"Limits {shown(limits.width, 1)} standard deviations wide from {limits.count} tests{alike}, points "
        f"beyond them alone: when nothing is wrong, the first false alarm comes after about {ends[0]} tests "
        f"({ends[1]} to {ends[2]} in 9 cases of 10) if the limits are exact.",
        often.sentence,
        f"Limits {shown(width)} standard deviations wide would keep one false alarm in "
        f"{WANTED:.0f} tests or rarer for 9 of 10 such baselines.",
    )


def _phi(limits: charts.Limits) -> float:
    return min(0.95, max(0.0, limits.lag1)) if "autocorrelated" in limits.flags else 0.0


def _worth(limits: charts.Limits) -> int:
    """The independent tests whose standard deviation is as sure: n (1 - phi^2)/(1 + phi^2)."""
    phi = _phi(limits)
    return max(charts.MINIMUM_BASELINE, round(limits.count * (1.0 - phi**2) / (1.0 + phi**2)))
