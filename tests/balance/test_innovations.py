"""What the balance did not foresee: by hand for one result, and as theory says on another plant."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from sandlab.balance.innovations import KEPT, Innovations
from sandlab.balance.recommender import Recommender
from sandlab.balance.stream import HOUR_US, BatchMade, Event, Outlook, Recommendation, ResultKnown
from tests.balance.luck import Luck
from tests.balance.small_plant import BATCH_US, MONDAY_US, SmallPlant, plant_model


def batches(count: int) -> list[Event]:
    """So many batches of the usual recipe."""
    model = plant_model(Luck())
    kg = {feeder.id: feeder.present_kg for feeder in model.feeders}
    return [BatchMade(MONDAY_US + place * BATCH_US, kg) for place in range(count)]


def clay(value: float, batch: int, *, late_h: int = 1) -> ResultKnown:
    """A test of active clay on the sand of one batch."""
    taken = MONDAY_US + batch * BATCH_US
    return ResultKnown("active_clay", value, taken, taken + late_h * HOUR_US)


def test_one_result_by_hand() -> None:
    """Derived: (result - expected)/sqrt(h P h + r^2), with the clay expected at the start."""
    recommender = Recommender(plant_model(Luck()))
    for event in (*batches(1), clay(8.6, 0)):
        recommender.note(event)
    filter_ = recommender.sand_filter
    start, charged = filter_.start().gaussian, recommender.log.charged(0)
    made = filter_.mixed(start.mean, charged)
    row = filter_.rows(made)[0]
    noise = 0.25
    expected = (8.6 - float(made.composition[0])) / sqrt(float(row @ start.covariance @ row) + noise**2)
    (found,) = recommender.innovations()
    assert (found.property, found.value, found.taken_us) == ("active_clay", 8.6, MONDAY_US)
    assert found.distance == pytest.approx(expected, rel=1e-9)


def test_the_order_of_telling_makes_no_difference() -> None:
    """Results and a batch told late, and a whole history at once, leave the same innovations, each once."""
    made = batches(60)
    tests = [clay(8.0 + 0.3 * (place % 3), 7 * place) for place in range(8)]
    in_order, late, whole = (Recommender(plant_model(Luck())) for _ in range(3))
    for event in (*made, *tests):
        in_order.note(event)
    for event in (*made[:20], *made[21:40], *tests[:5], *made[40:], made[20], *tests[:4:-1]):
        late.note(event)
        late.innovations()
    assert whole.recall([*made, *tests]) == ()
    found = in_order.innovations()
    assert len(found) == 8
    for other in (late.innovations(), whole.innovations()):
        assert [one.taken_us for one in other] == [one.taken_us for one in found]
        np.testing.assert_allclose([x.distance for x in other], [x.distance for x in found], rtol=1e-6)


def test_innovations_of_a_sound_plant_are_small_and_do_not_repeat() -> None:
    """Common practice in filtering: those of a filter that fits are white, of the variance it expects.

    The plant shares no physics with the balance, so they are held to be so roughly: spread 0.5 to 1.4, no
    lasting side, neighbours hardly alike; a slip of the laboratory by 3 % clay stands out among them.
    """

    class Listener:
        """Keeps what it is told and sets nothing."""

        def __init__(self) -> None:
            self.events: list[Event] = []
            self.inner = Recommender(plant_model(Luck()))

        def note(self, event: Event) -> None:
            self.events.append(event)
            self.inner.note(event)

        def water(self, *asked: object) -> float:
            return self.inner.water(*asked)  # type: ignore[arg-type]

        def recommend(self, at_us: int, outlook: Outlook) -> Recommendation:
            return self.inner.recommend(at_us, outlook)

    plant = SmallPlant(3, Luck(), hours=120)
    listener = Listener()
    plant.run(listener)
    found = listener.inner.innovations()
    for name in ("compactability", "moisture"):
        row = np.array([one.distance for one in found if one.property == name])[20:]
        assert row.size > 60
        assert 0.5 < row.std() < 1.4, name
        assert abs(row.mean()) < 0.4, name
        assert abs(np.corrcoef(row[1:], row[:-1])[0, 1]) < 0.4, name
    last = [one for one in listener.events if isinstance(one, ResultKnown) and one.property == "active_clay"][
        -1
    ]
    slipped = Recommender(plant_model(Luck()))
    wrong = ResultKnown("active_clay", last.value + 3.0, last.taken_us, last.known_us)
    slipped.recall([wrong if one is last else one for one in listener.events])
    told = {one.taken_us: one.distance for one in slipped.innovations() if one.property == "active_clay"}
    assert told[last.taken_us] == max(told.values())
    assert told[last.taken_us] > 5.0


def test_a_stream_that_goes_on_keeps_no_more_than_it_can_be_told_anew() -> None:
    kept = Innovations()
    for index in range(KEPT + 50):
        kept.begin(index)
        kept.add(index, "moisture", 3.3, 0.1)
    kept.begin(KEPT + 49)
    assert len(kept.all()) == KEPT - 1
    assert min(one.taken_us for one in kept.all()) == 50
