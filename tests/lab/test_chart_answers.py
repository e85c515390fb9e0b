"""Charts in full: changes in words, kinds, the set together, proposals, figures, additions, rules."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta

import pytest

from sandlab import charts
from sandlab.errors import InputError, SpecsError
from sandlab.lab.batches import log_batch
from sandlab.lab.charting import add_event, chart, freeze_baseline, overview, picture
from sandlab.lab.describing import span_words
from sandlab.lab.facts import ChartFacts
from sandlab.lab.figures import figures
from sandlab.lab.kinds import KINDS
from sandlab.lab.leaving import leave_out
from sandlab.lab.opening import Lab, checked_specs, open_lab
from sandlab.lab.phase import leaving, propose
from sandlab.lab.series import microseconds
from sandlab.lab.together import NAME
from tests.lab.conftest import Clock, Log

Filled = Callable[..., None]
QUIET = 40


@pytest.fixture
def filled(lab: Lab, log: Log, clock: Clock) -> Filled:
    """Hourly samples in which moisture follows compactability, drawn from a seed."""
    draw = random.Random(5)

    def fill(count: int, *, compactability: float = 0.0) -> None:
        for _ in range(count):
            step = draw.gauss(0, 1)
            texts = {
                "compactability": f"{42 + compactability + 1.2 * step:.1f}",
                "moisture": f"{3.3 + 0.08 * step + 0.02 * draw.gauss(0, 1):.3f}",
                "green_compression_strength": f"{160 + 3 * draw.gauss(0, 1):.1f}",
            }
            log(confirmed=tuple(texts), **texts)
            clock.move(hours=1)

    return fill


def freeze_all(lab: Lab, clock: Clock) -> None:
    """Limits of the three from everything so far."""
    for name in ("compactability", "moisture", "green_compression_strength"):
        start = clock.now - timedelta(days=4)
        freeze_baseline(lab, name, window_from=start, window_to=clock.now, by="MO", reason="quiet weeks")


@pytest.mark.parametrize(
    ("low", "present", "said"),
    [
        ("2026-11-27T01:00", "2026-11-30T15:00", "Fri 03:00 (01:00 to 19:00)"),
        ("2026-11-26T05:00", "2026-11-30T15:00", "Fri 03:00 (Thu 05:00 to Fri 19:00)"),
        # That Monday's name would be today's.
        ("2026-11-23T18:00", "2026-11-30T15:00", "27 Nov 03:00 (23 Nov 18:00 to 27 Nov 19:00)"),
        (
            "2026-11-26T05:00",
            "2027-01-04T15:00",
            "27 Nov 2026 03:00 (26 Nov 2026 05:00 to 27 Nov 2026 19:00)",
        ),
        ("2026-11-26T05:00", None, "27 Nov 2026 03:00 (26 Nov 2026 05:00 to 27 Nov 2026 19:00)"),
    ],
)
def test_a_start_is_named_so_that_it_is_one_day(low: str, present: str | None, said: str) -> None:
    start, first, last = (
        microseconds(datetime.fromisoformat(one).replace(tzinfo=UTC))
        for one in ("2026-11-27T03:00", low, "2026-11-27T19:00")
    )
    now = datetime.fromisoformat(present).replace(tzinfo=UTC) if present else None
    assert span_words(charts.When(start, first, last), UTC, now) == said


def test_a_step_is_dated_and_sized_in_words(lab: Lab, clock: Clock, filled: Filled) -> None:
    """Four down from the 41st test on: the range holds that moment, the interval holds 4."""
    filled(QUIET)
    freeze_all(lab, clock)
    began = clock.now
    filled(8, compactability=-4.0)
    facts = chart(lab, "compactability")
    assert facts.change is not None
    assert facts.change.began_from is not None
    assert facts.change.began_to is not None
    assert facts.change.began_from <= began <= facts.change.began_to
    assert facts.change.size_low < -4.0 < facts.change.size_high
    assert facts.state == "signal"
    assert "since" in facts.words
    assert "about one false alarm every" in facts.words
    # The three and their set together.
    assert "over all 4 charts" in facts.words
    row = next(one for one in overview(lab).properties if one.property == "compactability")
    assert row.words == facts.words


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_draws_as_many_points_as_tests(kind: str, lab: Lab, clock: Clock, filled: Filled) -> None:
    """Also across a missing night; nothing drawn is not a number."""
    filled(QUIET)
    freeze_all(lab, clock)
    clock.move(hours=9)
    filled(6, compactability=-5.0)
    facts = chart(lab, "compactability", last=30, kind=kind)  # type: ignore[arg-type]
    drawn = picture(facts)
    assert drawn.values.size == len(facts.points) == 30
    assert facts.kind == kind
    if kind in ("ewma", "cusum"):
        assert any(one.alarm for one in facts.signals)
        assert facts.drawn is not None
        assert "one false alarm in 370" in facts.drawn.design or "autocorrelation" in facts.drawn.design


def said(lab: Lab) -> list[str]:
    """All words of charts of every kind, the set together, the overview, figures and a proposal."""
    kinds = [chart(lab, "moisture", kind=kind) for kind in KINDS]
    sets = [chart(lab, NAME), chart(lab, NAME, kind="ewma")]
    rest = [overview(lab), figures(lab, "moisture"), propose(lab, "moisture")]
    return [words for facts in (*kinds, *sets, *rest) for words in texts(facts.model_dump())]


def texts(value: object) -> Iterator[str]:
    """Every text of facts."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list | tuple):
        for one in value.values() if isinstance(value, dict) else value:
            yield from texts(one)


def test_all_words_have_the_decimal_mark_of_the_plant(
    lab: Lab, log: Log, clock: Clock, filled: Filled
) -> None:
    """What charts write with a point, a plant with a comma reads with a comma; nothing else is changed."""
    filled(QUIET)
    freeze_all(lab, clock)
    filled(8, compactability=-4.0)
    log(compactability="41.9", moisture="3.60", confirmed=("compactability", "moisture"))
    plainly = said(lab)
    assert any("moisture is high" in one.lower() and "3.60" in one for one in plainly)
    (lab.folder / "specs").mkdir()
    (lab.folder / "specs" / "system.toml").write_text('[plant]\ndecimal_mark = ","\n', encoding="utf-8")
    other = open_lab(lab.folder, clock=clock)
    found = said(other)
    other.close()
    assert [one for one in found if re.search(r"\d\.\d", one)] == []
    assert found == [re.sub(r"(?<=\d)\.(?=\d)", ",", one) for one in plainly]


def test_without_limits_another_kind_says_what_is_missing(lab: Lab, filled: Filled) -> None:
    filled(10)
    facts = chart(lab, "moisture", kind="cusum")
    assert facts.drawn is None
    assert "needs limits first" in facts.kind_words


def test_the_set_together_names_the_broken_relation(lab: Lab, log: Log, clock: Clock, filled: Filled) -> None:
    """Each value is usual by itself; moisture is high for its compactability."""
    filled(2 * QUIET)
    freeze_all(lab, clock)
    quiet = chart(lab, NAME)
    assert quiet.state == "in_control"
    assert quiet.words.startswith(f"{quiet.label}: all ")
    log(compactability="42", moisture="3.43", green_compression_strength="160")
    facts = chart(lab, NAME)
    assert facts.signals[-1].index == len(facts.points) - 1
    assert "Moisture is high for this Compactability" in facts.signals[-1].reason
    assert facts.state == "signal"
    single = chart(lab, "moisture")
    assert not [one for one in single.signals if one.alarm and one.index == len(single.points) - 1]
    assert any(one.property == NAME and one.state == "signal" for one in overview(lab).properties)


def test_the_set_together_judges_what_is_measured(lab: Lab, log: Log, clock: Clock, filled: Filled) -> None:
    """A sample without moisture is judged by the rest; with one baseline the set asks for more."""
    filled(QUIET)
    assert "Freeze limits of at least two" in chart(lab, NAME).words
    freeze_all(lab, clock)
    log(compactability="33", confirmed=("compactability",))
    facts = chart(lab, NAME)
    assert "Compactability is low" in facts.signals[-1].reason


def test_a_test_left_out_by_somebody_else_stays_in_its_sample(lab: Lab, clock: Clock, filled: Filled) -> None:
    """One sample is one point, judged whole, of the person who took it."""
    filled(QUIET)
    freeze_all(lab, clock)
    before = chart(lab, NAME)
    point = before.points[-1]
    leave_out(lab, "moisture", sample=point.sample, by="MO", reason="dish still warm")
    assert chart(lab, NAME).points == before.points
    assert point.by != "MO"


def test_the_set_together_flags_bounds(lab: Lab, log: Log, clock: Clock, filled: Filled) -> None:
    """A sample of which a test is only a bound says so; the others have no flag."""
    filled(QUIET)
    freeze_all(lab, clock)
    clock.move(hours=1)
    log(compactability="42", moisture=">3.30", confirmed=("moisture",))
    flags = [one.flags for one in chart(lab, NAME).points]
    assert flags[-1] == ("Moisture written >3.30: counts as 3.30",)
    assert set(flags[:-1]) == {()}


def test_a_proposal_leaves_out_what_has_a_cause(lab: Lab, log: Log, clock: Clock, filled: Filled) -> None:
    """The odd test after a noted event leaves with its reason; the reason is kept with the limits."""
    filled(20)
    add_event(lab, text="water valve stuck", by="RM", kind="maintenance")
    log(compactability="56", confirmed=("compactability",))
    clock.move(hours=1)
    filled(20)
    proposal = propose(lab, "compactability")
    odd = [one for one in proposal.exclusions if one.value == 56.0]
    assert [one.leaves for one in odd] == [True]
    assert "water valve stuck" in proposal.words
    frozen = freeze_baseline(
        lab,
        "compactability",
        window_from=proposal.window_from,
        window_to=proposal.window_to,
        by="MO",
        reason="after the overhaul",
        excluded=leaving(proposal),
    )
    assert frozen.count == 40
    assert frozen.excluded == (odd[0].sample,)
    assert "water valve stuck" in frozen.reason
    assert chart(lab, "compactability").baseline == frozen


def test_a_window_knows_its_own_samples(lab: Lab, clock: Clock, filled: Filled) -> None:
    """A sample that was mistyped is named, not kept as left out; a window without tests warns of nothing."""
    filled(20)
    span = {"window_from": clock() - timedelta(days=2), "window_to": clock()}
    with pytest.raises(InputError, match="nosuch: is no sample of the window in which it was tested"):
        freeze_baseline(lab, "moisture", **span, by="MO", reason="new lot", excluded=["nosuch"])
    with pytest.raises(InputError, match="0 measured values"):
        propose(
            lab, "moisture", window_from=clock() - timedelta(days=9), window_to=clock() - timedelta(days=8)
        )


def test_a_baseline_that_no_longer_describes_is_said_to(lab: Lab, clock: Clock, filled: Filled) -> None:
    """After a lasting shift; both baselines then stand on the time line."""
    filled(QUIET)
    freeze_all(lab, clock)
    assert chart(lab, "compactability").proposal == ""
    filled(QUIET, compactability=3.0)
    facts = chart(lab, "compactability")
    assert "no longer describes the process" in facts.proposal
    freeze_all(lab, clock)
    again = chart(lab, "compactability")
    assert len(again.baselines) == 2
    assert len(picture(again).baselines) == 2


def test_figures_answer_in_every_section(lab: Lab, clock: Clock, filled: Filled) -> None:
    """Capability against the target's tolerance; a drift says when each limit is reached."""
    filled(QUIET)
    freeze_all(lab, clock)
    for place in range(12):
        filled(1, compactability=-0.35 * place)
    facts = figures(lab, "compactability")
    assert facts.capability is not None
    assert facts.capability.ppk.low < facts.capability.ppk.value < facts.capability.ppk.high
    assert facts.resemblance is not None
    assert facts.trend is not None
    assert facts.trend.sure
    assert any(one.course in ("coming", "beyond", "unsure") for one in facts.trend.outlook)
    assert {one.rule: one.alarms for one in facts.rules}["beyond_limit"]
    assert facts.over_correction is not None
    assert facts.over_correction.missing == ()
    words = " ".join(line for one in facts.sections for line in one.lines)
    assert "frozen" in words.lower()
    assert "nan" not in words.lower()


def test_figures_of_nothing_say_what_is_missing(lab: Lab) -> None:
    """No test at all: no figure, no error."""
    facts = figures(lab, "permeability")
    assert facts.capability is None
    assert facts.trend is None
    assert ("0 tests are too few to search for a drift.",) in [one.lines for one in facts.sections]
    assert "No limits are frozen" in facts.sections[0].lines[0]
    with pytest.raises(InputError, match="did you mean"):
        figures(lab, "permeabilty")
    with pytest.raises(InputError, match="at least 8"):
        propose(lab, "permeability")


def test_additions_are_charted_like_properties(lab: Lab, clock: Clock) -> None:
    """The mean kg per batch of each hour; limits can be frozen from them."""
    draw = random.Random(3)
    for _ in range(24):
        for _ in range(2):
            clock.move(minutes=30)
            log_batch(lab, added_kg={"water": 24.0 + draw.gauss(0, 1), "bentonite": 10.0}, by="AK")
    facts = chart(lab, "water_kg")
    assert 24 <= len(facts.points) <= 25
    assert facts.unit == "kg"
    start = clock.now - timedelta(days=2)
    freeze_baseline(lab, "water_kg", window_from=start, window_to=clock.now, by="MO", reason="quiet")
    assert chart(lab, "water_kg").state == "in_control"
    assert any(one.property == "bentonite_kg" for one in overview(lab).properties)


def test_rules_are_switched_on_per_property(lab: Lab, log: Log, clock: Clock, filled: Filled) -> None:
    """The rule alarms where it is named; an unknown one is told with the nearest name."""
    filled(QUIET)
    freeze_all(lab, clock)
    filled(9, compactability=1.5)
    assert not _alarming(chart(lab, "compactability"), "eight_one_side")
    (lab.folder / "specs").mkdir(exist_ok=True)
    path = lab.folder / "specs" / "properties.toml"
    path.write_text('[compactability]\nrules = ["beyond_limit", "eight_one_side"]\n', encoding="utf-8")
    other = open_lab(lab.folder, clock=clock)
    try:
        facts = chart(other, "compactability")
    finally:
        other.close()
    assert _alarming(facts, "eight_one_side")
    assert {one.rule for one in facts.signals} <= {"beyond_limit", "eight_one_side"}
    path.write_text('[compactability]\nrules = ["nine_on_side"]\n', encoding="utf-8")
    with pytest.raises(SpecsError, match="did you mean 'nine_one_side'"):
        checked_specs(lab.folder)


def _alarming(facts: ChartFacts, rule: str) -> bool:
    return any(one.alarm and one.rule == rule for one in facts.signals)


def test_two_tests_at_one_moment_are_no_trouble(lab: Lab, log: Log, clock: Clock, filled: Filled) -> None:
    """Both are drawn; the chart and its figures are computed as for tests in order."""
    filled(QUIET)
    freeze_all(lab, clock)
    log(compactability="43")
    log(compactability="41")
    facts = chart(lab, "compactability")
    assert facts.points[-1].at == facts.points[-2].at
    assert figures(lab, "compactability").trend is not None


def test_constant_tests_give_no_limits_and_say_so(lab: Lab, log: Log, clock: Clock) -> None:
    """Ten equal tests: the chart says that no limits can be drawn; no figure is not a number."""
    for _ in range(10):
        log(permeability="110")
        clock.move(hours=1)
    start = clock.now - timedelta(days=1)
    freeze_baseline(lab, "permeability", window_from=start, window_to=clock.now, by="MO", reason="trial")
    facts = chart(lab, "permeability")
    assert facts.state == "no_baseline"
    assert "all baseline values are equal" in facts.words
    assert chart(lab, "permeability", kind="wide").drawn is None
    assert figures(lab, "permeability").rules == ()
