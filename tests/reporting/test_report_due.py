"""Tests taken of those due: only while the sand ran, and it is said what was counted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sandlab.lab.entry import Entry, record_sample
from sandlab.lab.opening import Lab, open_lab
from sandlab.lab.report import monthly_review, shift_report
from sandlab.records import Batch, Production
from tests.lab.conftest import Clock
from tests.store.examples import make

MONDAY = datetime(2026, 3, 2, 6, tzinfo=UTC)
SHIFT = "2026-03-02T06:00"


@pytest.fixture
def lab(tmp_path: Path) -> Iterator[Lab]:
    """An hourly set and a daily one at ten; the clock stands on the next evening."""
    (tmp_path / "plant" / "specs").mkdir(parents=True)
    off = "".join(f"[systems.main.schedule.{one}]\nenabled = false\n" for one in ("belt", "shift", "weekly"))
    text = f'[plant]\ntime_zone = "UTC"\n{off}'
    (tmp_path / "plant" / "specs" / "system.toml").write_text(text, encoding="utf-8")
    opened = open_lab(tmp_path / "plant", clock=Clock(MONDAY + timedelta(hours=36)))
    yield opened
    opened.close()


def measured(lab: Lab, hours: Sequence[float]) -> None:
    """Hourly tests so many hours after six."""
    for hour in hours:
        at = MONDAY + timedelta(hours=hour)
        record_sample(
            lab,
            point="muller_discharge",
            by="JV",
            entries=[Entry("moisture", "3.3")],
            taken_at=at,
            confirmed=("taken_at",),
        )


def poured(lab: Lab, start: float, end: float, metal_t: float = 20.0) -> None:
    """Production from one hour after six to another."""
    at, until = (MONDAY + timedelta(hours=hour) for hour in (start, end))
    one = make(Production, at=at, until=until, job="a", metal_t=metal_t, sand_to_metal=6.0, core_sand_t=0.0)
    lab.store.save([one])


def made(lab: Lab, *hours: float) -> None:
    """Batches so many hours after six."""
    each = [
        make(Batch, at=MONDAY + timedelta(hours=hour), number=number, return_sand_kg=1.0, added_kg={})
        for number, hour in enumerate(hours)
    ]
    lab.store.save(each)


def said(lab: Lab, shift: str = SHIFT) -> str:
    """The sentence of a shift's report."""
    (words,) = (one for one in shift_report(lab, shift).facts.words if one.startswith("Tests taken"))
    return words


def test_without_production_or_batches_every_hour_counts(lab: Lab) -> None:
    """And the sentence says so: eight hourly times from six to fourteen, one daily."""
    measured(lab, [0, 1])
    assert "Hourly set: 2 of 8" in said(lab)
    assert "no production or batch is written down, so every hour counts as running" in said(lab)


def test_only_times_with_production_after_them_count(lab: Lab) -> None:
    """Six to nine: three hourly times; the daily one at ten comes after it and is not due."""
    poured(lab, 0, 3)
    measured(lab, [0.2, 1.1])
    assert said(lab) == (
        "Tests taken of those due: Hourly set: 2 of 3 "
        "(counted while production or batches are written down, 3 h of 8 h)."
    )


def test_a_time_tested_counts_though_nothing_ran(lab: Lab) -> None:
    """A test at noon, three hours after the last metal, is one more taken of one more due."""
    poured(lab, 0, 3)
    measured(lab, [0.2, 6.1])
    assert "Hourly set: 2 of 4" in said(lab)


def test_a_stop_written_down_without_metal_is_no_running(lab: Lab) -> None:
    """From nine to fourteen nothing was poured."""
    poured(lab, 0, 3)
    poured(lab, 3, 8, metal_t=0.0)
    measured(lab, [0.2])
    assert "Hourly set: 1 of 3" in said(lab)


def test_batches_tell_as_well_and_short_gaps_between_them_are_bridged(lab: Lab) -> None:
    """At six, a quarter past seven and noon: six and seven o'clock are one stretch, noon another."""
    made(lab, 0.0, 1.25, 6.0)
    measured(lab, [0.2])
    assert "Hourly set: 1 of 3" in said(lab)
    assert "1 h 15 min of 8 h" in said(lab)


def test_a_sample_counts_from_its_grace_before_the_time_on(lab: Lab) -> None:
    """As in the schedule: 06:50 is for seven o'clock, and 13:50 for the next shift's two o'clock."""
    poured(lab, 0, 10)
    grace = lab.sand.schedule["hourly"].grace_min / 60
    assert grace > 10 / 60
    measured(lab, [5 / 6, 8 - 1 / 6, 9.2])
    assert "Hourly set: 1 of 8" in said(lab)
    assert "Hourly set: 2 of 2" in said(lab, "2026-03-02T14:00")


def test_a_month_leaves_idle_nights_and_weekends_out(lab: Lab) -> None:
    """Five days of eight hours in March: by hand 40 hourly times, 3 tested, and 5 daily ones."""
    clock = lab.clock
    assert isinstance(clock, Clock)
    clock.move(days=40)
    for day in range(5):
        poured(lab, 24 * day, 24 * day + 8)
    measured(lab, [0.1, 25.1, 97.1])
    words = monthly_review(lab, "2026-03").facts.words
    assert any(
        "Hourly set: 3 of 40" in one and "0 of 5" in one and "1 d 16 h of 31 d" in one for one in words
    )
