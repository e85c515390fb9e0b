"""Two properties against each other: the relation over the baseline, and which tests leave its band."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from sandlab import charts
from sandlab.drawing import Axis, Band, ScatterPicture
from sandlab.errors import InputError, impossible
from sandlab.lab.baselines import newest_baselines
from sandlab.lab.facts import (
    AxisFacts,
    BandFacts,
    BesideFacts,
    ChartFacts,
    PairFacts,
    PointFacts,
    RelationFacts,
)
from sandlab.lab.leaving import left_out
from sandlab.lab.opening import Lab
from sandlab.lab.series import Series
from sandlab.lab.showing import clock_text
from sandlab.lab.sources import names, read, require
from sandlab.labels import inside
from sandlab.quantities import format_number

CONFIDENCE = 0.99
LATER = 40
"""Pairs after the baseline that are shown."""
FITTED = 500
"""Pairs a relation is fitted over where no limits are frozen."""
ALONG = 25
"""Places along x where the band is given."""


@dataclass(frozen=True, slots=True)
class _Pair:
    point: PointFacts
    at: datetime
    x: float


def relation(lab: Lab, property: str, against: str, *, last: int = LATER) -> RelationFacts:
    """How a property follows another; raises InputError for unknown names or one name twice.

    Tests of one sample are paired; else each test with the last one of the other property before it, if that
    is no older than two of its intervals. The line is fitted over the window of the property's baseline,
    tests left out of limits not counted, and without limits over the oldest tests read.
    """
    require(lab, property)
    require(lab, against)
    if property == against:
        raise impossible(against, "is the same property", "choose another one")
    baseline = newest_baselines(lab).get(property)
    since = baseline.window_from if baseline else None
    up = read(lab, property, since=since, last=None if since else FITTED + last)
    across = read(lab, against, since=since, last=None if since else 2 * (FITTED + last))
    pairs = _paired(up, across)
    ends = baseline.window_to if baseline else _middle(pairs, last)
    out = {*left_out(up.points), *left_out(across.points), *(baseline.excluded if baseline else ())}
    fitted = [one for one in pairs if ends is not None and one.at <= ends and one.point.sample not in out]
    later = [one for one in pairs if ends is None or one.at > ends][-last:]
    try:
        line = charts.fit_relation([one.x for one in fitted], [one.point.value for one in fitted])
    except InputError as error:
        words = f"No relation: {error.problems[0]}."
        if baseline is None and len(pairs) < last + charts.MINIMUM_BASELINE:
            so_far = f"{len(pairs)} pair{'' if len(pairs) == 1 else 's'} so far"
            enough = f"or come back after {last + charts.MINIMUM_BASELINE} pairs"
            words = f"No relation yet, {so_far}: freeze limits of {inside(up.label)}, {enough}."
        return _facts(lab, up, across, None, (), fitted, later, words, "")
    band, sides = _band(line, [*fitted, *later])
    first, end = (clock_text(one.at, lab.zone) for one in (fitted[0], fitted[-1]))
    origin = f"line from {line.count} tests, {first} to {end}; 99 of 100 tests lie in the band"
    words = _words(lab, up, across, line, later, sides[len(fitted) :])
    return _facts(lab, up, across, (line, band), sides, fitted, later, words, origin)


def beside(lab: Lab, facts: ChartFacts, other: ChartFacts) -> BesideFacts:
    """Two charts with the relation of the first to the second; raises InputError for one property twice."""
    known = names(lab)
    related = facts.property in known and other.property in known
    found = relation(lab, facts.property, other.property) if related else None
    return BesideFacts(chart=facts, beside=other, relation=found)


def _middle(pairs: list[_Pair], last: int) -> datetime | None:
    """Without limits the newest tests are held against those before them."""
    return pairs[-last - 1].at if len(pairs) > last else None


def _paired(up: Series, across: Series) -> list[_Pair]:
    """Each test with the other property of its sample, else with the last one before it."""
    same = {one.sample: one.value for one in across.points}
    known = [one for one in across.points if one.at is not None]
    times = [one.at for one in known if one.at is not None]
    oldest = timedelta(minutes=2.0 * (across.every_min or 60.0))
    found = []
    for point in up.points:
        if point.at is None:
            continue
        x = same.get(point.sample)
        if x is None:
            place = bisect_right(times, point.at) - 1
            if place < 0 or point.at - times[place] > oldest:
                continue
            x = known[place].value
        found.append(_Pair(point, point.at, x))
    return found


def _band(line: charts.Relation, pairs: list[_Pair]) -> tuple[BandFacts, tuple[int, ...]]:
    """The band along all x shown, and the side of it on which each pair lies."""
    x = np.array([one.x for one in pairs])
    y = np.array([one.point.value for one in pairs])
    own = charts.relation_band(line, x, confidence=CONFIDENCE)
    sides = np.where(y > own.high, 1, np.where(y < own.low, -1, 0))
    along = np.linspace(float(x.min()), float(x.max()), ALONG)
    drawn = charts.relation_band(line, along, confidence=CONFIDENCE)
    rows = (tuple(row.tolist()) for row in (drawn.ahead, drawn.level, drawn.low, drawn.high))
    x_row, level, low, high = rows
    return BandFacts(x=x_row, level=level, low=low, high=high), tuple(sides.tolist())


def _words(
    lab: Lab, up: Series, across: Series, line: charts.Relation, later: list[_Pair], sides: tuple[int, ...]
) -> str:
    """What the newest test should be, whether it is, and how many of those after the baseline are not."""

    def shown(value: float, series: Series, more: int = 0) -> str:
        return f"{format_number(value, series.decimals + more, mark=lab.mark)} {series.unit}".rstrip()

    if not line.sure:
        return (
            f"{up.label} does not follow {inside(across.label)} in these {line.count} tests: "
            "no relation that is more than chance."
        )
    slope = shown(line.slope, up, 1)
    said = f"{up.label} moves by {slope} for each {across.unit or '1'} of {inside(across.label)}."
    if not later:
        return said
    newest = later[-1]
    band = charts.relation_band(line, [newest.x], confidence=CONFIDENCE)
    low = format_number(float(band.low[0]), up.decimals, mark=lab.mark)
    high = shown(float(band.high[0]), up)
    where = {0: "as expected", 1: "above what is expected", -1: "below what is expected"}[sides[-1]]
    odd = sum(side != 0 for side in sides)
    pair = f"{up.label} {shown(newest.point.value, up)} at {inside(across.label)} {shown(newest.x, across)}"
    said = f"{pair} is {where} ({low} to {high}). {said}"
    return f"{said} {odd} of the last {len(later)} tests lie outside the band."


def _facts(
    lab: Lab,
    up: Series,
    across: Series,
    fit: tuple[charts.Relation, BandFacts] | None,
    sides: tuple[int, ...],
    fitted: list[_Pair],
    later: list[_Pair],
    words: str,
    origin: str,
) -> RelationFacts:
    line, band = fit if fit is not None else (None, None)
    both = [*fitted, *later]
    return RelationFacts(
        up=_axis(up),
        across=_axis(across),
        words=words,
        origin=origin,
        slope=line.slope if line else None,
        slope_error=line.slope_error if line else None,
        intercept=line.intercept if line else None,
        sigma=line.sigma if line else None,
        explained=line.explained if line else None,
        count=line.count if line else len(fitted),
        confidence=CONFIDENCE,
        band=band,
        pairs=tuple(
            PairFacts(
                at=one.at,
                sample=one.point.sample,
                by=one.point.by,
                x=one.x,
                y=one.point.value,
                baseline=place < len(fitted),
                side=sides[place] if sides else 0,
            )
            for place, one in enumerate(both)
        ),
    )


def _axis(series: Series) -> AxisFacts:
    return AxisFacts(property=series.name, label=series.label, unit=series.unit, decimals=series.decimals)


def scatter(facts: RelationFacts, *, mark: str = ".") -> ScatterPicture:
    """The relation as shapes."""
    pairs, band = facts.pairs, facts.band
    return ScatterPicture(
        across=_drawn(facts.across),
        up=_drawn(facts.up),
        x=np.array([one.x for one in pairs], dtype=np.float64),
        y=np.array([one.y for one in pairs], dtype=np.float64),
        later=sum(one.baseline for one in pairs),
        outside=np.array([one.side for one in pairs], dtype=np.int8),
        band=None
        if band is None
        else Band(*(np.array(row, dtype=np.float64) for row in (band.x, band.level, band.low, band.high))),
        decimal_mark=mark,
    )


def _drawn(axis: AxisFacts) -> Axis:
    return Axis(axis.label, axis.unit, axis.decimals)
