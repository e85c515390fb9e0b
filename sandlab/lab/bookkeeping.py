"""The books of a period: what came in, burned and left, what does not close, additives per t of metal."""

from __future__ import annotations

from datetime import datetime, timedelta

from sandlab.balance.books import Account, Books, books
from sandlab.balance.paper import paper_flags
from sandlab.errors import impossible
from sandlab.lab.estimates import feeder_label
from sandlab.lab.facts import AccountFacts, BooksFacts, UsedFacts
from sandlab.lab.learning import told
from sandlab.lab.opening import Lab
from sandlab.lab.series import microseconds
from sandlab.lab.showing import clock_text, sentence
from sandlab.labels import inside
from sandlab.quantities import format_number
from sandlab.records import Production

WEEK = timedelta(days=7)
SAME_METAL = 0.1  # share by which the metal of the batches and the metal written down may differ
SURE = 2.0
"""Standard deviations of the closing error beyond which it is more than chance."""


def period_books(
    lab: Lab, *, window_from: datetime | None = None, window_to: datetime | None = None
) -> BooksFacts:
    """The books from one time to another, of the last seven days where none is given."""
    until = window_to or lab.now()
    since = window_from or until - WEEK
    if until <= since:
        raise impossible("period", "ends before it begins", "give the earlier time first")
    log = told(lab, since, until).recommender.log
    found = books(log, microseconds(since), microseconds(until))
    poured = _poured(lab, found, since, until)
    findings = (*found.findings, *paper_flags(log, microseconds(until)), *poured)
    accounts = tuple(_account(lab, name, one) for name, one in found.accounts.items())
    return BooksFacts(
        window_from=since,
        window_to=until,
        batches=len(log.at),
        dry_in_t=found.dry_in_kg / 1000.0,
        metal_t=found.metal_t,
        words=_words(lab, found, accounts, since, until, whole=not poured),
        accounts=accounts,
        used=tuple(_used(lab, name, per_t, found.metal_t) for name, per_t in found.per_t.items()),
        findings=tuple(sentence(_named(lab, one)) for one in findings),
    )


def _poured(lab: Lab, found: Books, since: datetime, until: datetime) -> list[str]:
    """Whether the batches of the log are as many as the metal that is written down as poured needs."""
    metal = 0.0
    for one in lab.store.records(Production, lab.system, since=since - timedelta(days=1), until=until):
        within = min(one.until, until) - max(one.at, since)
        metal += one.metal_t * max(0.0, within / max(one.until - one.at, timedelta(seconds=1)))
    if not metal or abs(found.metal_t / metal - 1.0) <= SAME_METAL:
        return []
    words = (
        f"the batches are those of {_kg(lab, found.metal_t)} t of metal, {_kg(lab, metal)} t are written down"
    )
    lacking = "batches are missing from the log" if found.metal_t < metal else "production is missing from it"
    return [f"{words} as poured: {lacking}, or sand:metal is not what is written"]


def _account(lab: Lab, name: str, one: Account) -> AccountFacts:
    closes = abs(one.closing) <= SURE * one.sd
    label = lab.specs.properties[name].label
    closing, wide = (_kg(lab, number) for number in (abs(one.closing), SURE * one.sd))
    verdict = "closes" if closes else "does not close"
    way = "missing" if one.closing > 0.0 else "too much"
    return AccountFacts(
        name=name,
        label=label,
        brought={feeder_label(lab, key): kg for key, kg in one.brought.items()},
        formed_kg=one.formed,
        burned_kg=one.burned,
        dust_kg=one.dust,
        left_kg=one.left,
        gained_kg=one.gained,
        closing_kg=one.closing,
        sd_kg=one.sd,
        closes=closes,
        words=f"{label} {verdict}: {closing} kg {way}, up to {wide} kg are chance.",
    )


def _used(lab: Lab, feeder: str, per_t: float, metal_t: float) -> UsedFacts:
    return UsedFacts(
        feeder=feeder,
        label=feeder_label(lab, feeder),
        kg=per_t * metal_t,
        kg_per_t_metal=per_t,
        text=format_number(per_t, 1, mark=lab.mark),
    )


def _kg(lab: Lab, value: float) -> str:
    return format_number(value, 0, mark=lab.mark)


def _named(lab: Lab, finding: str) -> str:
    """A finding with the feeders called as on site."""
    for name in lab.sand.feeders:
        finding = finding.replace(f": {name} may", f": {feeder_label(lab, name)} may")
    return finding


def _words(
    lab: Lab,
    found: Books,
    accounts: tuple[AccountFacts, ...],
    since: datetime,
    until: datetime,
    *,
    whole: bool,
) -> str:
    """Whether the books close; where they do not, what that points to."""
    open_ones = [inside(one.label) for one in accounts if not one.closes]
    span = f"{clock_text(since, lab.zone)} to {clock_text(until, lab.zone)}"
    sand = f"{_kg(lab, found.metal_t)} t of metal, {_kg(lab, found.dry_in_kg / 1000.0)} t of sand in and out"
    if open_ones:
        return (
            f"The books of {' and '.join(open_ones)} do not close, {span}: look at the feeder and for leaks."
        )
    if not accounts:
        return f"Too few tests at the ends of {span} to close the books; {sand}."
    return f"The books close{'' if whole else ' as far as the log goes'}, {span}: {sand}."
