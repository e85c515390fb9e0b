"""The stream of lines against the library: the same answers, and what is said of lines that cannot be."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from sandlab.balance import PlantModel, Recommendation, Recommender
from sandlab.balance import stream as told
from sandlab.lab.facts import StreamedFacts
from sandlab.lab.learning import model_of
from sandlab.lab.opening import Lab
from sandlab.lab.streaming import Refused, answers, streamed_facts
from sandlab.plant.closed import Line, draw_case
from tests.benchmarks.closed_loop.courses import run

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MONDAY = datetime(2026, 3, 2, 6, tzinfo=UTC)
KG = {"bentonite": 10.5, "carbon": 10.0, "new_sand": 20.0, "water": 28.0}


def iso(at_us: int) -> str:
    """A time as the stream writes it."""
    return (EPOCH + timedelta(microseconds=at_us)).isoformat()


def line_of(event: told.Event) -> dict[str, Any]:
    """An event of the library as a line of the stream."""
    if isinstance(event, told.ResultKnown):
        return {
            "kind": "result", "property": event.property, "value": event.value,
            "taken": iso(event.taken_us), "known": iso(event.known_us), "doubtful": event.doubtful,
        }  # fmt: skip
    at = {"at": iso(event.at_us)}
    if isinstance(event, told.Production):
        return at | {
            "kind": "production", "until": iso(event.until_us), "job": event.job, "metal_t": event.metal_t,
            "sand_to_metal": event.sand_to_metal, "core_sand_t": event.core_sand_t,
        }  # fmt: skip
    if isinstance(event, told.Receipt):
        return at | {
            "kind": "receipt",
            "material": event.material,
            "lot": event.lot,
            "assay": dict(event.assay),
        }
    assert isinstance(event, told.BatchMade)
    return at | {
        "kind": "batch", "added_kg": dict(event.added_kg), "return_sand_kg": event.return_sand_kg,
        "probe_moisture": event.probe_moisture, "probe_temperature": event.probe_temperature,
    }  # fmt: skip


class Recorder:
    """The library as a controller that writes down what it is told and what it answers."""

    def __init__(self, model: PlantModel) -> None:
        self.recommender = Recommender(model)
        self.lines: list[str] = []
        self.answers: list[Recommendation] = []

    def note(self, event: told.Event) -> None:
        """Take in and write down."""
        self.lines.append(json.dumps(line_of(event)))
        self.recommender.note(event)

    def water(
        self, at_us: int, moisture: float | None, temperature: float | None, kg: Mapping[str, float]
    ) -> float:
        """Water for one batch, which changes nothing."""
        return self.recommender.water(at_us, moisture, temperature, kg)

    def recommend(self, at_us: int, outlook: told.Outlook) -> Recommendation:
        """Answer and write down that an answer was due."""
        jobs = [
            {
                "at": iso(job.from_us), "until": iso(job.until_us), "job": job.job,
                "sand_to_metal": job.sand_to_metal, "core_sand_t_per_t": job.core_sand_t_per_t,
            }
            for job in outlook.jobs
        ]  # fmt: skip
        self.lines.append(json.dumps({"kind": "advice_due", "at": iso(at_us), "jobs": jobs}))
        self.answers.append(self.recommender.advise(at_us, outlook))
        return self.answers[-1]


@pytest.fixture
def model(lab: Lab) -> PlantModel:
    """The plant of the shipped specs."""
    return model_of(lab.specs, lab.system)


def test_a_replayed_stream_answers_as_the_library(model: PlantModel) -> None:
    """A day and a half of a simulated plant, closed by the library: the stream gives the same answers."""
    recorders: list[Recorder] = []

    def make(_: PlantModel, line: Line, column: int) -> Recorder:
        recorders.append(Recorder(model))
        return recorders[-1]

    run(draw_case(5, "all", 2), {"recorded": make}, probes=True, model=model)
    (recorder,) = recorders
    given = list(answers(model, UTC, recorder.lines))
    streamed = [one for one in given if isinstance(one, StreamedFacts)]
    assert not [one for one in given if isinstance(one, Refused) and one.wrong]
    assert len(streamed) == len(recorder.answers) >= 24
    for got, meant in zip(streamed, recorder.answers, strict=True):
        expected = streamed_facts(meant, got.line, got.age_min, ())
        assert got.model_copy(update={"problems": ()}) == expected
    assert streamed[-1].reason != streamed[0].reason


def told_lines(
    model: PlantModel, *rest: dict[str, Any] | str, zone: tzinfo = UTC
) -> tuple[list[StreamedFacts], list[str]]:
    """An hour of batches with tests, then more lines: the answers, and what was said of lines."""
    lines: list[str] = []
    for minute in range(0, 60, 3):
        at = (MONDAY + timedelta(minutes=minute)).isoformat()
        lines.append(json.dumps({"kind": "batch", "at": at, "added_kg": KG}))
    for name, value in (("active_clay", 8.0), ("volatiles", 1.4), ("compactability", 42.0)):
        lines.append(json.dumps(result(name, value)))
    lines += [one if isinstance(one, str) else json.dumps(one) for one in rest]
    given = list(answers(model, zone, lines))
    said = [str(one.problem) for one in given if isinstance(one, Refused)]
    return [one for one in given if isinstance(one, StreamedFacts)], said


def result(name: str, value: float, *, hours: float = 1.0) -> dict[str, Any]:
    """A result of the sand of 06:30, known some hours after 06:00."""
    return {
        "kind": "result", "property": name, "value": value, "taken": "2026-03-02T06:30Z",
        "known": (MONDAY + timedelta(hours=hours)).isoformat(),
    }  # fmt: skip


def due(hours: float = 1.0) -> dict[str, Any]:
    """An advice due so many hours after 06:00."""
    return {"kind": "advice_due", "at": (MONDAY + timedelta(hours=hours)).isoformat()}


BAD: dict[str, str | dict[str, Any]] = {
    "line 24, JSON: cannot be read": "nonsense",
    "line 24, JSON: is no object": "[1, 2]",
    "line 24, kind: 'bach' is not known; did you mean 'batch'?": {"kind": "bach"},
    "line 24, added_kg: field required": {"kind": "batch", "at": "2026-03-02T07:01Z"},
    "line 24, valu: extra inputs are not permitted": result("moisture", 3.0) | {"valu": 1},
    "line 24, value: input should be a valid number": result("moisture", 3.0) | {"value": "3,1"},
    "line 24, value: not a finite number": '{"kind": "result", "property": "moisture", "value": NaN, '
    '"taken": "2026-03-02T06:30Z", "known": "2026-03-02T07:00Z"}',
    "line 24, known: 'tomorrow' is not a time": result("moisture", 3.0) | {"known": "tomorrow"},
    "line 24, result of moisture: known before it was taken": result("moisture", 3.0, hours=0.0),
    "line 24, batch: no feeder 'bentonit'; did you mean 'bentonite'?": {
        "kind": "batch", "at": "2026-03-02T07:01Z", "added_kg": {"bentonit": 9.0},
    },
    "line 24, added_kg: no feeder 'watr'": {
        "kind": "set", "at": "2026-03-02T07:01Z", "added_kg": {"watr": 9.0},
    },
    "line 24, stock of bentonite: -5.0 kg is not possible": {
        "kind": "stock", "at": "2026-03-02T07:01Z", "material": "bentonite", "kg": -5.0,
    },
    "line 24, receipt of bentonite: its assay is zero": {
        "kind": "receipt", "at": "2026-03-02T07:01Z", "material": "bentonite", "assay": {"active_clay": 0.0},
    },
    "line 24, feeder bentonite weighed out": {
        "kind": "weighed", "at": "2026-03-02T07:01Z", "feeder": "bentonite",
        "shown_kg": 50.0, "weighed_kg": 5.0,
    },
}  # fmt: skip


@pytest.mark.parametrize("said", BAD)
def test_a_bad_line_is_told_by_number_and_left_out(model: PlantModel, said: str) -> None:
    """Line number, what is wrong and what to do; the next answer is as if the line were not there."""
    (clean,), _ = told_lines(model, due(1.1))
    (answer,), problems = told_lines(model, BAD[said], due(1.1))
    assert problems[0].startswith(said)
    assert {one.feeder: one.kg for one in answer.additions} == {one.feeder: one.kg for one in clean.additions}
    assert f"{answer.problems[0].where}: {answer.problems[0].what}".startswith(said.partition(";")[0])
    assert answer.problems[0].do


def test_the_last_good_answer_stays_in_force_with_its_age(model: PlantModel) -> None:
    """An advice due that cannot be read is answered by the last one, an hour old by then."""
    broken = due(2.0) | {"jobs": [{"job": "no times"}]}
    (first, second), problems = told_lines(model, due(1.0), broken)
    assert problems
    assert (first.age_min, second.age_min) == (0.0, 60.0)
    assert second.at == first.at and second.additions == first.additions


def test_before_any_answer_the_settings_are_held(model: PlantModel) -> None:
    """Nothing computed yet and the first question is broken: what is set stays, with the reason."""
    (answer,), _ = told_lines(model, '{"kind": "advice_due", "at": ')
    assert answer.hold and "keep the present settings" in answer.reason
    assert {one.feeder: one.kg for one in answer.additions} == KG | {"new_sand": 20.0}


def test_lines_out_of_time_order_are_flagged_and_counted(model: PlantModel) -> None:
    """A result that became known before a line above it is counted in its place, and said."""
    late = result("active_clay", 7.4, hours=0.9)
    (answer,), problems = told_lines(model, late, due())
    assert "line 24: became known before a line above it" in problems[0]
    (clean,), _ = told_lines(model, due())
    assert answer.prepared != clean.prepared and "line 24" in answer.problems[0].where
    assert answer.additions[0].kg > clean.additions[0].kg


def test_stock_below_zero_lots_on_top_and_lots_together_are_flagged(model: PlantModel) -> None:
    """Fed more than there was; a lot on the rest of the last one; two lots in one filling."""
    at = {"at": "2026-03-02T07:00Z"}
    count = {"kind": "stock", "at": "2026-03-02T06:00Z", "material": "bentonite", "kg": 100.0}
    (answer,), _ = told_lines(model, count, due(1.1))
    assert any("bentonite: 110 kg more were fed than the silo held" in flag for flag in answer.flags)
    lots = [
        {
            "kind": "receipt",
            "material": "bentonite",
            "lot": lot,
            "kg": 20_000.0,
            "assay": {"active_clay": clay},
        }
        for lot, clay in (("A", 100.0), ("B", 84.0))
    ]
    old = lots[0] | {"at": "2026-03-01T06:00Z"}
    full = count | {"kg": 9_000.0}
    (answer,), _ = told_lines(model, old, full, lots[1] | at, due(1.1))
    assert any("lot B lies on about 8790 kg of lot A" in flag for flag in answer.flags)
    (answer,), _ = told_lines(model, lots[0] | at, lots[1] | at, due(1.1))
    assert any("lots A and B were filled in together" in flag for flag in answer.flags)
    assert "active clay 92.00 %" not in answer.reason  # each lot is named with its own certificate
    (single,), _ = told_lines(model, lots[1] | at, due(1.1))
    clay = {one.feeder: one.ideal_kg for one in answer.additions}["bentonite"]
    assert clay < {one.feeder: one.ideal_kg for one in single.additions}["bentonite"]


def test_a_day_without_production_is_flagged(model: PlantModel) -> None:
    """Batches of the day before yesterday that nobody wrote production for: how many, and what is used."""
    poured = {
        "kind": "production", "at": "2026-03-02T06:00Z", "until": "2026-03-02T07:00Z", "job": "gully grate",
        "metal_t": 4.0, "sand_to_metal": 7.2,
    }  # fmt: skip
    earlier = poured | {"at": "2026-03-01T06:00Z", "until": "2026-03-01T07:00Z"}
    (answer,), _ = told_lines(model, earlier, due(48.0))
    said = "no production is written down for 20 batches made 2.0 to 2.0 days ago: sand:metal as planned"
    assert any(said in flag for flag in answer.flags)
    (answer,), _ = told_lines(model, poured, due(48.0))
    assert not any("no production" in flag for flag in answer.flags)
    (answer,), _ = told_lines(model, due(48.0))
    assert "no production is written down: the usual sand:metal 6 is used" in answer.flags


def test_the_plants_clock_may_jump(model: PlantModel) -> None:
    """When clocks change a local time may never have been, or twice: told; an offset settles it."""
    zone = ZoneInfo("Europe/Copenhagen")

    def batch(at: str) -> dict[str, Any]:
        return {"kind": "batch", "at": at, "added_kg": KG}

    spring, autumn = batch("2026-03-29T02:30"), batch("2026-10-25T02:30")
    _, problems = told_lines(model, spring, autumn, batch("2026-10-25T02:30+02:00"), zone=zone)
    assert (
        "was skipped by the plant's clock; the clocks went forward that night: perhaps 03:30" in problems[0]
    )
    assert "was there twice by the plant's clock; write the offset with it: +02:00 or +01:00" in problems[1]
    assert len(problems) == 2


def test_out_of_reach_says_what_binds_and_the_best(lab: Lab) -> None:
    """Clay far below target: the greatest step binds, and the level that is reached is told."""
    lines = [result("active_clay", 6.4), result("active_clay", 6.4, hours=1.01), due(1.1)]
    (answer,), _ = told_lines(model_of(lab.specs, lab.system), *lines)
    miss = next(one for one in answer.misses if one.property == "active_clay")
    assert "greatest step 2 kg from 10.5 kg" in miss.because
    assert 6.4 < miss.expected < 8.0
