"""Advice from the store: new lots, thin records, accepted values, units, and what stays in force."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from sandlab.errors import InputError, Problem, SandlabError
from sandlab.lab import plant_log
from sandlab.lab.accepting import accept, accepted
from sandlab.lab.additions import parts_words
from sandlab.lab.advising import advise, change_words, latest_advice, preview, release
from sandlab.lab.batches import log_batch
from sandlab.lab.checking import check
from sandlab.lab.facts import AdviceFacts
from sandlab.lab.learning import plant_model, told
from sandlab.lab.opening import Lab, open_lab
from sandlab.records import Batch
from tests.lab.conftest import MONDAY, Clock, Ids, Log
from tests.lab.test_happened import START, filled
from tests.lab.test_muller import FULL


@pytest.fixture
def shift(tmp_path: Path) -> Iterator[Lab]:
    """A plant with a shift of batches and tests."""
    lab = filled(tmp_path / "plant", None)
    yield lab
    lab.close()


def kg(facts: AdviceFacts, feeder: str) -> float:
    """The kilograms of one feeder."""
    return next(one.kg for one in facts.additions if one.feeder == feeder)


def test_an_advice_that_was_ended_half_way_changes_no_later_one(shift: Lab) -> None:
    """Ended at each of its steps, it leaves nothing behind: the next is that of a terminal just opened."""
    other = open_lab(shift.folder, clock=shift.clock, new_id=Ids())
    whole: list[float] = []
    wanted = preview(other, whole.append)
    assert whole == sorted(whole)
    for steps in range(len(whole)):
        left = iter(range(steps))

        def end(_share: float, left: Iterator[int] = left) -> None:
            if next(left, None) is None:
                raise SandlabError(Problem("advice", "was ended", "ask again"))

        with pytest.raises(SandlabError, match="was ended"):
            change_words(shift, end)
    found = preview(shift)
    other.close()
    assert found.additions == wanted.additions
    assert (found.expected, found.reasons) == (wanted.expected, wanted.reasons)


def test_a_new_lot_changes_the_advice_from_its_first_batch(shift: Lab) -> None:
    """A certificate of 80 % instead of 100 %: more bentonite at once, with the lot as the reason."""
    before = advise(shift, by="JV")
    written = plant_log.log_receipt(
        shift, material="bentonite", lot="VK-1", kg=24_000.0, assay={"active_clay": 80.0}, by="PR"
    )
    assert "80 % after 100 %: read it again" in written.doubts[0]
    after = advise(shift, by="JV")
    assert kg(after, "bentonite") >= kg(before, "bentonite") + 1.0
    assert "new lot VK-1 of bentonite: active clay 80.00 %" in after.sentence
    model = told(shift, START, MONDAY).recommender
    assert model.log.assays_at(model.log.at[-1])[0][0, 0] == 100.0  # batches made before it stay as they were


def test_a_plant_without_logged_batches_is_advised_with_wide_bands(lab: Lab, log: Log) -> None:
    """One round of tests at a new plant: batches are assumed as set and said; the next tests narrow it."""
    log(**FULL)
    first = advise(lab, by="JV")
    assert any("0 of about 20 batches were logged" in one for one in first.reasons)
    assert {one.feeder for one in first.additions} == set(lab.sand.feeders)
    clay = next(one for one in first.expected if one.property == "active_clay")
    assert float(clay.band_text) > 0.3
    assert "start values of the specs" in first.basis


def test_without_any_test_everything_is_held(lab: Lab) -> None:
    """Nothing known: the reference stays and a test is asked for."""
    facts = advise(lab, by="JV")
    assert facts.hold
    assert {one.feeder: one.kg for one in facts.additions} == {
        name: one.reference_kg for name, one in lab.sand.feeders.items()
    }
    assert "test again before changing" in facts.reasons[0]


def test_accepted_values_are_what_the_balance_starts_from(shift: Lab) -> None:
    """Who, when, window and reason are kept; what was before stands beside; later ones add up."""
    window = {"window_from": START - timedelta(days=28), "window_to": START}
    first = accept(
        shift,
        values={"clay_wear_factor": 0.41},
        sd={"clay_wear_factor": 0.01},
        by="MO",
        reason="28 days",
        **window,
    )
    assert (first.values[0].before, first.values[0].value) == (0.33, 0.41)
    accept(shift, values={"slope": 24.0}, by="MO", reason="28 days", **window)
    model = plant_model(shift)
    assert (model.loop.clay_wear_factor, model.slope) == (0.41, 24.0)
    learned = told(shift, START, MONDAY).recommender.learned()["clay_wear_factor"]
    assert learned.value == pytest.approx(0.41, abs=0.02) and learned.sd < 0.03
    assert "accepted on 02 Mar 2026 by MO" in advise(shift, by="JV").basis
    kept = accepted(shift)
    assert kept is not None and (kept.by, kept.reason) == ("MO", "28 days")


def test_values_that_cannot_be_are_refused_together(shift: Lab) -> None:
    """Unknown name, impossible value, no initials, no reason, window turned round: all at once."""
    with pytest.raises(InputError) as caught:
        accept(
            shift, values={"clay_wear": 0.4, "core_retention": 7.0, "demand_clay": 0.3}, by=" ", reason="",
            window_from=MONDAY, window_to=START,
        )  # fmt: skip
    text = str(caught.value)
    assert "did you mean 'clay_wear_factor'" in text and "7 share is impossible" in text
    assert "give the moisture demand as a whole" in text
    assert len(caught.value.problems) == 6
    with pytest.raises(InputError, match="choose a longer window"):
        accept(shift, window_from=START, window_to=START + timedelta(hours=1), by="MO", reason="try")


def test_what_cannot_be_computed_leaves_the_last_release_in_force(tmp_path: Path, log: Log, lab: Lab) -> None:
    """A bentonite without assay in the specs: told, with the recommendation in force and its age."""
    log(**FULL)
    release(lab, recommendation=advise(lab, by="JV").recommendation, by="JV")
    specs = lab.folder / "specs"
    specs.mkdir()
    (specs / "materials.toml").write_text("[bentonite.assay]\nactive_clay = 0.0\n")
    clock = Clock(MONDAY + timedelta(hours=3, minutes=10))
    broken = open_lab(lab.folder, clock=clock, new_id=Ids(count=7000))
    with pytest.raises(InputError) as caught:
        advise(broken, by="JV")
    text = str(caught.value)
    assert "cannot correct anything" in text
    assert "released at 08:05 by JV stays in force; it is 3 h 10 min old" in text
    kept = latest_advice(broken)
    assert kept is not None and kept.released
    broken.close()


def test_a_doubtful_result_asks_for_its_repeat(lab: Lab, log: Log, clock: Clock) -> None:
    """Confirmed, but outside what is usual: said with its value until the test is repeated."""
    log(**FULL)
    clock.move(minutes=30)
    low = lab.specs.properties["active_clay"].doubtful[0] - 0.5
    log(confirmed=("active_clay",), active_clay=f"{low:g}")
    doubted = [one for one in advise(lab, by="JV").reasons if "is doubted" in one]
    assert len(doubted) == 1 and doubted[0].startswith(f"active clay {low:.2f} %")
    assert "repeat the test" in doubted[0]


def test_check_tells_what_keeps_the_balance_from_advising(tmp_path: Path) -> None:
    """A bentonite without assay, no target of compactability: named before anybody asks for advice."""
    specs = tmp_path / "plant" / "specs"
    specs.mkdir(parents=True)
    assert check(tmp_path / "plant").ok
    (specs / "materials.toml").write_text("[bentonite.assay]\nactive_clay = 0.0\n")
    (specs / "system.toml").write_text("[systems.main.targets.compactability]\nenabled = false\n")
    said = [f"{one.where}: {one.what}" for one in check(tmp_path / "plant").problems]
    assert said == [
        "systems.main, material bentonite, assay: a clay with no active_clay cannot correct anything",
        "systems.main, targets: compactability has no target",
    ]


def test_an_impossible_record_is_left_out_and_said(shift: Lab) -> None:
    """A batch with 5 t of bentonite, imported from somewhere, does not end all advice."""
    at = MONDAY - timedelta(minutes=1)
    wrong = Batch(
        id=Ids(count=8000)(), system="main", at=at, by="AK", recorded_at=at, number=161,
        return_sand_kg=1500.0,
        added_kg={"bentonite": 5000.0},
    )  # fmt: skip
    clean = advise(shift, by="JV")
    shift.store.save([wrong])
    facts = advise(shift, by="JV")
    assert any(
        "left out of the balance: batch, bentonite: 5000.0 kg is not possible" in one for one in facts.reasons
    )
    assert kg(facts, "bentonite") == kg(clean, "bentonite")


def test_a_feeder_weighed_out_is_believed(shift: Lab) -> None:
    """Seven per cent short by the scale: the balance feeds more of what really arrives."""
    before = advise(shift, by="JV")
    plant_log.weigh_feeder(shift, feeder="bentonite", shown_kg=50.0, weighed_kg=44.0, by="PR")
    learned = told(shift, START, MONDAY).recommender.learned()["feeder bentonite"]
    assert learned.value == pytest.approx(-0.12, abs=0.02) and learned.sd < 0.02
    assert kg(advise(shift, by="JV"), "bentonite") >= kg(before, "bentonite")


def test_a_planned_job_is_fed_forward(shift: Lab) -> None:
    """A job with much metal in little sand is in the outlook of the next advice."""
    plant_log.plan_job(
        shift, job="hydrant", start=MONDAY, until=MONDAY + timedelta(hours=6), sand_to_metal=3.0,
        core_sand_t_per_t=0.3, by="HL",
    )  # fmt: skip
    advise(shift, by="JV")
    recommender = told(shift, START, MONDAY).recommender
    from sandlab.lab.learning import outlook

    recommender.recommend(recommender.log.at[-1], outlook(shift, MONDAY))
    assert recommender.log.way_at(recommender.log.at[-1] + 3_600_000_000).sand_to_metal == 3.0


def test_hours_without_a_job_are_told_when_the_specs_job_is_another(shift: Lab) -> None:
    """The specs say 6.00 and 0.060; poured with 4.50: said from when on, until the coming hour is planned."""

    def said() -> list[str]:
        return [one for one in advise(shift, by="JV").reasons if "no job is planned" in one]

    def plan(start: timedelta, until: timedelta) -> None:
        plant_log.plan_job(
            shift, job="hydrant", start=MONDAY + start, until=MONDAY + until, sand_to_metal=4.5,
            core_sand_t_per_t=0.06, by="HL",
        )  # fmt: skip

    assert not said()
    plant_log.log_production(
        shift, job="hydrant", start=MONDAY - timedelta(hours=2), until=MONDAY - timedelta(minutes=1),
        metal_t=4000.0, sand_to_metal=4.5, core_sand_t=240.0, by="HL",
    )  # fmt: skip
    (words,) = said()
    assert "planned after 08:05: reckoned with sand to metal 6.00 and core sand 0.060 t/t as in" in words
    assert "the last 10 days ran with sand to metal 4.5" in words
    plan(timedelta(), timedelta(minutes=30))
    assert "planned after 08:35: reckoned" in said()[0]
    plan(timedelta(minutes=30), timedelta(hours=3))
    assert not said()


def test_odd_papers_are_asked_about(lab: Lab) -> None:
    """The same lot twice, no assay, a job written down twice, sand:metal upside down: saved, and said."""
    plant_log.log_receipt(lab, material="carbon", lot="C1", kg=1.0, assay={"volatiles": 33.0}, by="PR")
    twice = plant_log.log_receipt(lab, material="carbon", lot="C1", kg=1.0, assay={}, by="PR")
    assert "no assay" in twice.doubts[0] and "was received before" in twice.doubts[1]
    for doubts in (1, 2):
        poured = plant_log.log_production(
            lab,
            job="cover",
            start=START,
            until=MONDAY,
            metal_t=5.0,
            sand_to_metal=0.2,
            core_sand_t=0.0,
            by="HL",
        )
        assert len(poured.doubts) == doubts
    assert "sand:metal 0.2 is unusual" in poured.doubts[0]


def test_what_has_not_come_yet_is_refused(lab: Lab, clock: Clock) -> None:
    """A wrong year or a clock that is off; a plan may lie ahead, but not behind."""
    soon = MONDAY + timedelta(days=300)
    poured = {"metal_t": 5.0, "sand_to_metal": 6.0, "core_sand_t": 0.0, "by": "HL"}
    for write in (
        lambda: log_batch(lab, added_kg={"water": 20.0}, by="AK", at=soon),
        lambda: plant_log.log_probe(lab, by="AK", moisture=2.0, at=soon),
        lambda: plant_log.count_stock(lab, material="bentonite", kg=9.0, by="AK", at=soon),
        lambda: plant_log.weigh_feeder(
            lab, feeder="bentonite", shown_kg=9.0, weighed_kg=9.0, by="AK", at=soon
        ),
        lambda: plant_log.log_production(lab, job="x", start=soon, until=soon, **poured),
    ):
        with pytest.raises(InputError, match="is in the future"):
            write()
    now = clock()
    over = plant_log.log_production(lab, job="x", start=now, until=now + timedelta(hours=1), **poured)
    assert "has not come yet" in over.doubts[0]
    plan = {"sand_to_metal": 6.0, "by": "HL"}
    with pytest.raises(InputError, match="90 t per t of metal is impossible"):
        plant_log.plan_job(lab, job="x", start=now, until=soon, core_sand_t_per_t=90.0, **plan)
    past = plant_log.plan_job(lab, job="x", start=START, until=now, core_sand_t_per_t=0.1, **plan)
    assert "it is over already" in past.doubts[0]


def test_sentences_follow_the_plants_units_and_mark(tmp_path: Path) -> None:
    """Decimal comma, F and psi: in sentence, reasons and bounds."""
    folder = tmp_path / "plant"
    (folder / "specs").mkdir(parents=True)
    (folder / "specs" / "system.toml").write_text(
        '[plant]\ndecimal_mark = ","\n[plant.units]\npressure = "psi"\ntemperature = "F"\n'
    )
    lab = filled(folder, None)
    facts = advise(lab, by="JV")
    bounds = [one.binds for one in facts.additions]
    text = " ".join((facts.sentence, *facts.reasons, *bounds))
    assert "8,00 %" in text and "100 F, the usual value" in text and "resolution 0,5 kg" in text
    assert "18 F hotter or colder, or 0,5 % wetter" in text  # a difference of 10 C
    parts = [parts_words(one, ",") for one in facts.additions]
    assert all("," in words and "." not in words for words in parts)
    assert not [
        word for word in text.replace(";", " ").split() if word.replace(".", "", 1).isdigit() and "." in word
    ]
    lab.close()
