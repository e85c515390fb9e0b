"""The closed-loop bench deals fairly: nobody is told of tomorrow, and the scores are what they say."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

import numpy as np
import pytest

from sandlab.balance.stream import (
    BatchMade,
    Estimated,
    Event,
    Outlook,
    PlantModel,
    Production,
    Receipt,
    Recommendation,
    ResultKnown,
)
from sandlab.plant.closed import Case, draw_case
from tests.benchmarks.closed_loop.bound import Knowing
from tests.benchmarks.closed_loop.courses import Course, run
from tests.benchmarks.closed_loop.knowledge import plant_model, settings
from tests.benchmarks.closed_loop.recipes import LastTest
from tests.benchmarks.closed_loop.scores import gap_closed, interval, score
from tests.benchmarks.closed_loop.variants import VARIANTS


def earliest(event: Event) -> int:
    """Before this time nobody can know of it [us]."""
    if isinstance(event, ResultKnown):
        return event.known_us
    return event.until_us if isinstance(event, Production) else event.at_us


class Spy:
    """A fixed recipe that remembers what it was told and asked."""

    def __init__(self, model: PlantModel) -> None:
        self.model, self.told, self.fresh = model, list[Event](), list[Event]()
        self.asked, self.probes, self.outlooks = 0, 0, list[Outlook]()

    def note(self, event: Event) -> None:
        """Remember."""
        self.told.append(event)
        self.fresh.append(event)

    def water(
        self, at_us: int, moisture: float | None, temperature: float | None, added_kg: Mapping[str, float]
    ) -> float:
        """The recipe's water; nothing that was told since the last batch is of the future."""
        assert all(earliest(event) <= at_us for event in self.fresh)
        results = [event for event in self.fresh if isinstance(event, ResultKnown)]
        assert results == sorted(results, key=earliest)
        assert set(added_kg) == {"bentonite", "carbon", "new_sand"}
        self.fresh.clear()
        self.probes += moisture is not None and temperature is not None
        self.asked += 1
        return next(one.present_kg for one in self.model.feeders if one.id == "water")

    def recommend(self, at_us: int, outlook: Outlook) -> Recommendation:
        """The recipe."""
        self.outlooks.append(outlook)
        assert outlook.jobs[0].until_us > at_us
        return settings(at_us, self.model, {})


def fortnight(name: str = "all") -> Case:
    """Two weeks of one plant."""
    return draw_case(61, name, 14)


@pytest.mark.parametrize("probes", [True, False])
def test_events_come_when_they_become_known(probes: bool) -> None:
    """Every batch, test, lot and shift's production is told once, none before its time."""
    case, spies = fortnight(), list[Spy]()

    def make(model: PlantModel, *_: object) -> Spy:
        spies.append(Spy(model))
        return spies[-1]

    course = run(case, {"spy": make}, probes=probes)["spy"]
    (spy,) = spies
    counts = Counter(type(event) for event in spy.told)
    assert counts[BatchMade] == spy.asked - 1 == case.luck.batches - 1
    assert spy.probes == (case.luck.batches if probes else 0)
    assert counts[Receipt] == len(case.luck.clay_lots) + len(case.luck.coal_lots) - 2
    assert sum(map(len, case.tests.values())) - 30 < counts[ResultKnown] <= sum(map(len, case.tests.values()))
    poured = sum(event.metal_t for event in spy.told if isinstance(event, Production))
    assert 0.9 * course.metal_t.sum() < poured <= course.metal_t.sum()
    assert len(spy.outlooks) == pytest.approx(240, abs=6)


def test_a_result_belongs_to_the_sand_that_was_taken() -> None:
    """Without scatter each clay result is the true clay of its batch on the laboratory's scale."""
    case, model = VARIANTS["exact laboratory"](fortnight())
    spies = list[Spy]()

    def make(model: PlantModel, *_: object) -> Spy:
        spies.append(Spy(model))
        return spies[-1]

    true = run(case, {"spy": make}, probes=True, model=model)["spy"].true["active_clay"]
    told = [one for one in spies[0].told if isinstance(one, ResultKnown) and one.property == "active_clay"]
    assert len(told) > 20
    for one in told:
        batch = int(np.searchsorted(case.luck.at_us, one.taken_us, side="right")) - 1
        assert one.value == pytest.approx(true[batch], abs=1e-9)


def test_who_knows_more_comes_nearer() -> None:
    """Knowing each batch beats knowing four hours' mean, which beats the recipe by far."""
    courses = run(
        fortnight(),
        {
            "fixed": lambda model, line, column: LastTest(model, 0.0),
            "bound": lambda model, line, column: Knowing(model, line, column, 80),
            "oracle": lambda model, line, column: Knowing(model, line, column, 1),
        },
        probes=True,
    )
    clay, volatiles = (
        [score(course, 5.0).rms[name] for course in courses.values()] for name in ("active_clay", "volatiles")
    )
    assert clay[0] > 3.0 * clay[1] > 3.0 * clay[2] > 0.0
    assert volatiles[0] > 3.0 * volatiles[1] > 3.0 * volatiles[2] > 0.0


def test_scores_by_hand() -> None:
    """Rms, additive per metal and the share of bands that hold, of a course written by hand."""
    case = fortnight("undisturbed")
    count = case.luck.batches
    wave = 0.3 * np.where(np.arange(count) // 20 % 2 == 0, 1.0, -1.0)
    true = {
        "active_clay": case.plant.clay_target + wave,
        "volatiles": np.full(count, case.plant.volatiles_target - 0.1),
        "compactability": np.full(count, case.plant.compactability_target),
        "returned_clay": wave,
        "returned_volatiles": wave,
        "fixed_carbon": 3.0 + wave,
        "inert_fines": 6.0 + wave,
    }
    kg = np.repeat([[20.0], [3.0], [2.0], [9.0]], count, axis=1)
    course = Course(case, "by hand", true, kg, np.full(count, 0.25))
    narrow, wide = Estimated(case.plant.clay_target, 0.1), Estimated(case.plant.clay_target, 0.2)
    hours = range(2400, 4400, 20)
    fines = Estimated(6.3, 0.1)
    course.estimates = {
        n: ({"active_clay": wide if n % 80 else narrow, "inert_fines": fines}, {}) for n in hours
    }
    scored = score(course, 5.0)
    assert scored.rms["active_clay"] == pytest.approx(0.3)
    assert scored.rms["volatiles"] == pytest.approx(0.1)
    assert scored.rms["compactability"] == 0.0
    assert scored.kg_per_t == pytest.approx(20.0)
    band = scored.bands["prepared", "active_clay"]
    assert (band.inside, band.error) == pytest.approx((0.75, 0.3))
    assert band.width == pytest.approx(2.0 * 1.645 * (0.75 * 0.2 + 0.25 * 0.1))
    # at 6.3 +/- 0.16 against 6.3 in every second hour and 5.7 in the others
    assert scored.bands["prepared", "inert_fines"].inside == pytest.approx(0.5)


def test_gap_and_interval() -> None:
    """Half of the gap is half of the gap on every draw of seeds; an interval holds its mean."""
    marker, bound = [0.4, 0.5, 0.6], [0.1, 0.1, 0.2]
    middle = [(m + b) / 2.0 for m, b in zip(marker, bound, strict=True)]
    assert gap_closed(marker, middle, bound) == pytest.approx((0.5, 0.5, 0.5))
    low, high = interval(np.array(marker))
    assert 0.4 <= low < 0.5 < high <= 0.6


def test_the_start_model_tells_no_secrets() -> None:
    """Controllers get the middle of the ranges: the same wear and cores for plants that differ."""
    models = [plant_model(draw_case(seed, "undisturbed", 2)) for seed in (61, 62)]
    assert models[0].loop.clay_wear_factor == models[1].loop.clay_wear_factor == 0.33
    assert models[0].loop.carbon_wear_factor == models[1].loop.carbon_wear_factor == 1.1
    assert models[0].loop.core_retention == models[1].loop.core_retention
    assert models[0].stock_t != models[1].stock_t
    assert not models[0].noise
