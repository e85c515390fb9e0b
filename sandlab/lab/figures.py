"""The figures behind one chart: baseline, resemblance, change, drift, capability, over-correction, rules."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

import numpy as np

from sandlab import charts
from sandlab.charts.baseline import ENOUGH_BASELINE
from sandlab.errors import impossible
from sandlab.lab import figuring, together
from sandlab.lab.baselines import all_baselines, baseline_facts, window_values
from sandlab.lab.charting import LOOK_BACK, baseline_proposal, newest
from sandlab.lab.describing import change_facts, described
from sandlab.lab.facts import (
    AlarmsFacts,
    BaselineFacts,
    ChangeFacts,
    FiguresFacts,
    OverCorrectionFacts,
    PromiseFacts,
    ResemblanceFacts,
    RuleFacts,
    SectionFacts,
    ShapeFacts,
)
from sandlab.lab.false_alarms import alarm_lines, all_alarms, chart_in_use, wrong_words
from sandlab.lab.opening import Lab
from sandlab.lab.promising import promise
from sandlab.lab.series import Floats, Series
from sandlab.lab.showing import clock_text, marked, sentence
from sandlab.lab.sources import read, require
from sandlab.lab.swings import came_from
from sandlab.quantities import format_number
from sandlab.records import Baseline

# Log-likelihood by which a step has to be better than a ramp to be taken for one.
CLEARLY = 2.0
NO_LIMITS = "No limits are frozen: choose a quiet window and freeze them first."


@dataclass(frozen=True, slots=True, eq=False)
class Behind:
    """What the figures are computed from: a series, the values of its baseline, what is known around."""

    series: Series
    window: Floats
    zone: tzinfo
    now: datetime | None
    mark: str
    labels: Mapping[str, Sequence[str]]
    per_cycle: int
    wrong: str | None
    alarms: AlarmsFacts | None
    baseline: BaselineFacts | None
    baseline_lines: tuple[str, ...]
    no_limits: str = NO_LIMITS

    @property
    def timed(self) -> bool:
        """Whether the tests have times."""
        return self.series.times_us is not None


def figures(lab: Lab, property: str) -> FiguresFacts:
    """Every figure behind a property's chart; raises InputError for an unknown name."""
    return figures_of(gathered(lab, property))


def gathered(lab: Lab, property: str) -> Behind:
    """What the figures of a property are computed from, read once; raises InputError for an unknown name."""
    if property == together.NAME:
        do = f"ask for those of a property that sandlab chart {property} names"
        raise impossible(property, "has no figures of its own", do)
    require(lab, property)
    stored = all_baselines(lab)
    own = stored.get(property, [])
    baseline = own[-1] if own else None
    in_force = [each[-1] for each in stored.values()]
    series = read(lab, property, last=figuring.SEARCHED, baseline=baseline)
    return Behind(
        series=series,
        window=window_values(lab, baseline) if baseline else np.empty(0),
        zone=lab.zone,
        now=lab.now(),
        mark=lab.mark,
        labels=came_from(lab, property, series),
        per_cycle=_per_cycle(lab, series),
        wrong=wrong_words(lab, in_force),
        alarms=all_alarms(lab, in_force),
        baseline=baseline_facts(lab, baseline) if baseline else None,
        baseline_lines=_baseline_lines(lab, own, series),
    )


def figures_of(behind: Behind, *, step: Callable[[float], None] = lambda _: None) -> FiguresFacts:
    """Every figure that the tests allow; each that cannot be had says why.

    `step` is told the share done, and may raise to end the work.
    """
    series, recent = behind.series, _recent(behind.series)
    step(0.0)
    found = described(recent, wrong=behind.wrong, zone=behind.zone, now=behind.now)
    change, shapes = change_facts(found, timed=behind.timed), figuring.shapes(recent, found.change)
    step(0.1)
    likeness, likeness_lines = figuring.or_reason(lambda: figuring.resemblance(behind.window))
    step(0.2)
    fit, fit_lines = figuring.or_reason(lambda: figuring.capability(series, behind.window))
    drift, drift_lines = figuring.or_reason(
        lambda: figuring.trend(recent, change, _drift_start(found.change))
    )
    step(0.4)
    swing, swing_lines = figuring.or_reason(lambda: _swing(behind))
    step(0.6)
    promised, promise_lines = _promised(behind)
    step(0.8)
    rules, rule_lines = _costs(series, likeness)
    sections = (
        SectionFacts(title="Baseline", lines=behind.baseline_lines or (NO_LIMITS,)),
        SectionFacts(title="What these limits promise", lines=promise_lines),
        SectionFacts(title="Change", lines=_change_lines(recent, change, shapes)),
        SectionFacts(title="Drift", lines=drift_lines),
        SectionFacts(title="Neighbouring tests", lines=likeness_lines if series.limits else (NO_LIMITS,)),
        SectionFacts(title="Fit to the tolerance", lines=_fit_lines(series, fit_lines)),
        SectionFacts(title="Over-correction", lines=swing_lines),
        SectionFacts(title="Rules that alarm, and what each costs", lines=rule_lines),
        SectionFacts(title="False alarms over all charts", lines=_alarm_lines(behind)),
    )
    return FiguresFacts(
        property=series.name,
        label=series.label,
        unit=series.unit,
        words=found.sentence if series.limits else _unlimited(behind, found.sentence),
        baseline=behind.baseline,
        resemblance=likeness,
        change=change,
        shapes=shapes,
        trend=drift,
        capability=fit,
        over_correction=swing,
        promise=promised,
        rules=rules or (),
        alarms=behind.alarms,
        sections=tuple(_told(one, behind) for one in sections if one.lines),
    )


def _unlimited(behind: Behind, sentence_of_chart: str) -> str:
    """The words where there are no limits: those of the chart, or what a table has to do for limits."""
    if behind.no_limits == NO_LIMITS:
        return sentence_of_chart
    return f"{behind.series.label}: {behind.no_limits}"


def table_without_limits(series: Series) -> str:
    """What a table without a baseline has, and what to do for limits."""
    tests = "1 test" if series.count == 1 else f"{series.count} tests"
    if series.count < charts.MINIMUM_BASELINE:
        return f"{tests}; limits need {charts.MINIMUM_BASELINE} or more"
    last = min(series.values.size, ENOUGH_BASELINE)
    return f"{tests}; for limits, name the rows they come from, such as --baseline-rows 1:{last}"


def _told(section: SectionFacts, behind: Behind) -> SectionFacts:
    """The section, with what a plant or a table has to do for limits, in the plant's decimal mark."""
    mark = "." if section.title == "Baseline" else behind.mark  # its reason is as somebody wrote it
    lines = (behind.no_limits if line == NO_LIMITS else line for line in section.lines)
    return section.model_copy(update={"lines": tuple(marked(line, mark) for line in lines)})


def _swing(behind: Behind) -> tuple[OverCorrectionFacts, figuring.Lines]:
    return figuring.over_correction(behind.series, per_cycle=behind.per_cycle, labels=behind.labels)


def _promised(behind: Behind) -> tuple[PromiseFacts | None, figuring.Lines]:
    limits = behind.series.limits
    if limits is None or not limits.usable:
        return None, _no_limits(behind.series)
    return figuring.or_reason(lambda: promise(limits, mark=behind.mark))


def _costs(
    series: Series, likeness: ResemblanceFacts | None
) -> tuple[tuple[RuleFacts, ...] | None, figuring.Lines]:
    if series.limits is None or not series.limits.usable:
        return None, _no_limits(series)
    alike = None
    if likeness and likeness.signal_phi is not None and likeness.signal_share is not None:
        alike = (likeness.signal_phi, likeness.signal_share) if likeness.signal_phi > 0.0 else None
    in_use = chart_in_use(series.label, series.limits, series.rules, series.tests_per_day, alike)
    return figuring.or_reason(lambda: figuring.rule_costs(in_use))


def _no_limits(series: Series) -> figuring.Lines:
    if series.limits is None:
        return (NO_LIMITS,)
    return (sentence(f"No limits: {charts.FLAG_WORDS['constant']}"),)


def _drift_start(change: charts.ChangePoint | None) -> int | None:
    """Where a drift may have begun: with the ramp, unless the tests speak clearly for a step."""
    if change is None:
        return None
    clearly = change.step.support > change.ramp.support + CLEARLY
    return change.step.start if clearly else change.ramp.start


def _recent(series: Series) -> Series:
    """The tests that a change is looked for in."""
    return newest(series, LOOK_BACK)


def _change_lines(
    series: Series, change: ChangeFacts | None, shapes: Sequence[ShapeFacts]
) -> tuple[str, ...]:
    if series.limits is None:
        split = (f"If there are two levels: {figuring.shape_line(series, one)}" for one in shapes)
        return (NO_LIMITS, *split)
    if change is None:
        return ("No lasting change: the moving average of the last test is inside its limits.",)
    told = (figuring.shape_line(series, one) for one in shapes)
    return f"{change.what} {change.since}, {change.amount}.", sentence(change.sure), *told


def _fit_lines(series: Series, lines: tuple[str, ...]) -> tuple[str, ...]:
    if series.tolerance is None:
        return ("No tolerance is described for it.",)
    return (NO_LIMITS,) if series.limits is None else lines


def _alarm_lines(behind: Behind) -> tuple[str, ...]:
    if behind.alarms is None or not behind.wrong:
        return ()
    return alarm_lines(behind.alarms, behind.wrong)


def _per_cycle(lab: Lab, series: Series) -> int:
    """Tests in one pass of the sand."""
    muller = lab.sand.muller
    hours = lab.sand.stock.sand_t / (muller.batch_kg * muller.batches_per_h / 1000.0)
    return max(1, round(60.0 * hours / (series.every_min or 60.0)))


def _baseline_lines(lab: Lab, own: Sequence[Baseline], series: Series) -> tuple[str, ...]:
    """Who froze what, when and why; what was left out; whether it still describes the process."""
    if not own:
        return ()
    now, facts = own[-1], baseline_facts(lab, own[-1])

    def shown(value: float, more: int = 1) -> str:
        return format_number(value, series.decimals + more, mark=lab.mark)

    days = [clock_text(one, lab.zone) for one in (now.window_from, now.window_to)]
    said = [
        f"{shown(facts.lower)} / {shown(facts.centre)} / {shown(facts.upper)} {series.unit} from {now.count} "
        f"tests, {days[0]} to {days[1]}.",
        f"Frozen {clock_text(now.recorded_at, lab.zone)} by {now.by}: {now.reason}.",
        f"Standard deviation {shown(facts.sigma, 2)}, from moving ranges "
        f"{shown(facts.sigma_moving_range, 2)}.",
    ]
    if now.excluded:
        out = (
            "1 test of the window is"
            if len(now.excluded) == 1
            else f"{len(now.excluded)} tests of the window are"
        )
        said.append(f"{out} left out.")
    flags = series.limits.flags if series.limits else ()
    said += [sentence(charts.FLAG_WORDS[flag]) for flag in flags]
    if len(own) > 1:
        earlier = "1 earlier baseline is" if len(own) == 2 else f"{len(own) - 1} earlier baselines are"
        said.append(f"{earlier} kept on the time line.")
    proposal = baseline_proposal(lab, now, series)
    return (*said, proposal or "Later tests do not speak against it.")
