"""Charts of what the balance did not foresee: limits, points, words, bad input; nobody else pays for them."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sandlab.errors import InputError
from sandlab.lab.charting import chart, freeze_baseline, overview
from sandlab.lab.designs import Design
from sandlab.lab.figures import figures
from sandlab.lab.opening import Lab, open_lab
from sandlab.lab.relating import beside
from sandlab.records import Result, Sample
from tests.lab.conftest import Ids
from tests.lab.sand_plant import sand_line

NOW = datetime(2026, 3, 13, 14, 5, tzinfo=UTC)


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ten days of the small line; the newest clay test is 3 % too high."""
    folder = tmp_path_factory.mktemp("sand") / "plant"
    with sand_line(folder, NOW) as lab:
        slip = Sample(
            id=lab.new_id(),
            system=lab.system,
            at=NOW - timedelta(minutes=3),
            by="SK",
            recorded_at=NOW - timedelta(minutes=3),
            point="muller_discharge",
            specs_hash=lab.specs.hash,
            results=(Result(property="active_clay", value=10.9),),
        )
        lab.store.save([slip], specs_texts={lab.specs.hash: lab.specs.canonical_text})
    return folder


@pytest.fixture
def sand(template: Path, tmp_path: Path) -> Iterator[Lab]:
    """The small line, open."""
    folder = Path(shutil.copytree(template, tmp_path / "plant"))
    lab = open_lab(folder, clock=lambda: NOW, new_id=Ids())
    yield lab
    lab.close()


def test_a_slip_of_the_laboratory_stands_out(sand: Lab) -> None:
    """Limits are those that the balance promises, 3 of its own deviations; points say what was measured."""
    facts = chart(sand, "active_clay_innovation")
    assert facts.label == "Active clay, measured less foreseen"
    assert facts.unit == "deviations"
    assert facts.baseline is not None
    assert (facts.baseline.lower, facts.baseline.centre, facts.baseline.upper) == (-3.0, 0.0, 3.0)
    assert facts.state == "signal"
    tests = chart(sand, "active_clay").points
    assert [one.at for one in facts.points] == [one.at for one in tests]
    assert [one.sample for one in facts.points] == [one.sample for one in tests]
    assert facts.points[-1].value > 3.0
    assert facts.points[-1].flags == ("measured 10.90 %",)
    assert facts.points[-1].by == "SK"
    assert facts.signals[-1].alarm


def test_it_has_every_kind_and_a_stretch_of_time(sand: Lab) -> None:
    """The words stay about the present; the figures of an average are heeded."""
    for kind in ("ewma", "cusum", "residual", "wide"):
        facts = chart(sand, "moisture_innovation", kind=kind)
        assert facts.drawn is not None
        assert len(facts.drawn.values) == len(facts.points)
    facts = chart(sand, "moisture_innovation", kind="ewma", design=Design(weight=0.3, limit_width=3.0))
    assert facts.drawn is not None
    assert facts.drawn.upper == pytest.approx(3.0 * (0.3 / 1.7) ** 0.5, rel=1e-6)
    since, until = NOW - timedelta(days=3), NOW - timedelta(days=1)
    part = chart(sand, "moisture_innovation", since=since, until=until)
    assert 40 <= len(part.points) <= 49
    assert all(one.at is not None and since <= one.at <= until for one in part.points)
    assert part.words == chart(sand, "moisture_innovation").words
    assert len(chart(sand, "moisture_innovation", last=7).points) == 7
    assert chart(sand, "moisture_innovation", until=NOW - timedelta(days=90)).points == ()


def test_it_stands_beside_the_property(sand: Lab) -> None:
    """Two charts, and no relation: innovations are no tests of their own."""
    facts = chart(sand, "moisture")
    both = beside(sand, facts, chart(sand, "moisture_innovation", since=facts.points[0].at))
    assert both.beside.property == "moisture_innovation"
    assert both.relation is None
    assert beside(sand, facts, chart(sand, "compactability")).relation is not None


@pytest.mark.parametrize("name", ["permeability_innovation", "nobody_innovation"])
def test_what_the_balance_foresees_nothing_of_is_refused(name: str, sand: Lab) -> None:
    with pytest.raises(InputError, match="it foresees compactability_innovation") as caught:
        chart(sand, name)
    assert "fixed_carbon" in caught.value.problems[0].do


def test_its_limits_are_not_frozen_and_its_figures_are_those_of_the_tests(sand: Lab) -> None:
    name = "moisture_innovation"
    with pytest.raises(InputError, match="judged by what the balance expects"):
        freeze_baseline(sand, name, window_from=NOW - timedelta(days=5), window_to=NOW, by="MO", reason="x")
    with pytest.raises(InputError, match="or name moisture"):
        figures(sand, name)


def test_without_batches_it_says_what_is_missing(lab: Lab) -> None:
    facts = chart(lab, "active_clay_innovation")
    assert (facts.points, facts.state) == ((), "too_few")
    assert "No batch was logged in the last 30 days" in facts.words


def test_no_other_chart_runs_the_balance(sand: Lab, monkeypatch: pytest.MonkeyPatch) -> None:
    """Wall and charts of properties and additions come without it."""

    def refuse(*_: object) -> None:
        raise AssertionError("the balance was run")

    monkeypatch.setattr("sandlab.balance.recommender.Recommender.recall", refuse)
    monkeypatch.setattr("sandlab.balance.recommender.Recommender.note", refuse)
    assert not [one for one in overview(sand).properties if "innovation" in one.property]
    for name in ("moisture", "bentonite_kg", "together"):
        chart(sand, name)
    with pytest.raises(AssertionError, match="the balance was run"):
        chart(sand, "moisture_innovation")


def test_the_words_are_the_same_whatever_is_shown(sand: Lab) -> None:
    """The screen shows thirty days, the command 120 tests: one change, one rate of false alarms."""
    short, long = (chart(sand, "active_clay_innovation", last=last) for last in (10, 5000))
    assert len(short.points) == 10 < len(long.points)
    assert short.words == long.words


def test_a_property_worked_out_from_others_says_where_to_look(sand: Lab) -> None:
    """Fixed carbon is tested, but the balance takes loss on ignition and volatiles themselves."""
    worked_out = Sample(
        id=sand.new_id(),
        system=sand.system,
        at=NOW - timedelta(minutes=2),
        by="SK",
        recorded_at=NOW - timedelta(minutes=2),
        point="muller_discharge",
        specs_hash=sand.specs.hash,
        results=(Result(property="fixed_carbon", value=2.3, method="fixed_carbon"),),
    )
    assert "not tested in the last 30 days" in chart(sand, "fixed_carbon_innovation").words
    sand.store.save([worked_out], specs_texts={sand.specs.hash: sand.specs.canonical_text})
    facts = chart(sand, "fixed_carbon_innovation")
    assert facts.points == ()
    assert (
        "worked out from others (loss on ignition, volatiles, active clay), which the balance" in facts.words
    )
