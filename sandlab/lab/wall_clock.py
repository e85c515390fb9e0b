"""Times as people write them: ISO, with an offset or by the plant's wall clock, which jumps twice a year."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, tzinfo

from sandlab.errors import impossible

YEARS = range(1900, 2200)
"""What a year of a foundry can be; at the ends of the calendar a time has no neighbours."""


def require_year(year: int, written: str, *, where: str) -> None:
    """Raises InputError for a year that no record can be of."""
    if year not in YEARS:
        span = f"{YEARS.start} to {YEARS.stop - 1}"
        raise impossible(where, f"'{written}' lies outside the years {span}", "look at the year")


def moment_of(written: str, zone: tzinfo, *, where: str = "time") -> datetime:
    """The moment in UTC; raises InputError for a wall-clock time that never was or was twice."""
    try:
        moment = datetime.fromisoformat(written)
    except ValueError:
        what = f"'{written}' is not a time"
        raise impossible(where, what, "write for example 2026-03-01T14:00") from None
    require_year(moment.year, written, where=where)
    if moment.tzinfo is not None:
        return moment.astimezone(UTC)
    first, second = (moment.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if first.utcoffset() == second.utcoffset():
        return first.astimezone(UTC)
    if first.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != moment:
        later = (first.astimezone(UTC)).astimezone(zone)
        hint = f"the clocks went forward that night: perhaps {later:%H:%M}"
        raise impossible(where, f"{moment:%Y-%m-%d %H:%M} was skipped by the plant's clock", hint)
    offsets = " or ".join(_offset(one.utcoffset()) for one in (first, second))
    hint = f"write the offset with it: {offsets}"
    raise impossible(where, f"{moment:%Y-%m-%d %H:%M} was there twice by the plant's clock", hint)


def _offset(span: timedelta | None) -> str:
    minutes = round((span or timedelta()) / timedelta(minutes=1))
    sign = "-" if minutes < 0 else "+"
    return f"{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
