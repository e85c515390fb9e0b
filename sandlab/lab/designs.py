"""What a moving average or sums are set to: as a wish asks for, or figure by figure."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from sandlab import charts
from sandlab.charts.words import about
from sandlab.errors import InputError, Problem
from sandlab.lab.facts import ChartKind

# Rarer false alarms are not told apart.
NEVER = 1e9


@dataclass(frozen=True, slots=True)
class Design:
    """What a chart is asked for: one false alarm in so many tests, a shift found within so many.

    The plant-wide wish; the shift is in standard deviations of single tests. Figures that are given stand;
    `limit_width` and `decision` follow from `once_in` where only their partner is given.
    """

    once_in: float = 370.0
    shift: float = 1.0
    within: float = 12.0
    weight: float | None = None
    limit_width: float | None = None
    reference: float | None = None
    decision: float | None = None

    def check(self, kind: ChartKind, *, together: bool = False) -> None:
        """Raise for figures that a chart of this kind would not heed, and for one without its partner.

        Of several properties `together` only the weight of their moving averages is set.
        """
        figures = {
            "weight": (self.weight, "ewma"),
            "limit width": (self.limit_width, "ewma"),
            "reference": (self.reference, "cusum"),
            "decision": (self.decision, "cusum"),
        }
        problems = [
            Problem(name, f"a chart of kind {kind} has none", f"leave it out, or add --kind {owner}")
            for name, (value, owner) in figures.items()
            if value is not None and kind != owner
        ]
        if together and kind == "ewma" and self.limit_width is not None:
            problems.append(
                Problem("limit width", "follows from one false alarm in 370 samples here", "leave it out")
            )
        for name, partner in (("limit width", "weight"), ("decision", "reference")):
            if figures[name][0] is not None and figures[partner][0] is None:
                problems.append(Problem(name, f"is given without the {partner}", f"give the {partner} too"))
        if problems:
            raise InputError(problems)

    def average(self) -> tuple[float, float, str]:
        """Weight and width of the moving average, and what they reach in words."""
        if self.weight is None:
            found = charts.design_ewma(self.once_in, self.shift, self.within)
            return found.weight, found.width, found.reached.sentence
        weight = self.weight
        width = charts.ewma_width(weight, self.once_in) if self.limit_width is None else self.limit_width
        words = f"EWMA with weight {weight:g} and limits at {width:.4g} sigma"
        return weight, width, f"{words}: {_rare(charts.ewma_run_length(weight, width))}"

    def sums(self) -> tuple[float, float, str]:
        """Reference and decision of the sums, and what they reach in words."""
        if self.reference is None:
            found = charts.design_cusum(self.once_in, self.shift, self.within)
            return found.reference, found.decision, found.reached.sentence
        reference = self.reference
        decision = charts.cusum_decision(reference, self.once_in) if self.decision is None else self.decision
        words = f"CUSUM with reference {reference:g} and decision interval {decision:.5g}"
        return reference, decision, f"{words}: {_rare(charts.cusum_run_length(reference, decision))}"


def _rare(tests: float) -> str:
    """How often a chart is wrong, in words."""
    if not isfinite(tests) or not 0.0 < tests < NEVER:
        return "false alarms are too rare to be reckoned."
    return f"one false alarm in {about(tests)} tests."
