"""What instruments offer: proposals until a person takes them, batches until somebody logs them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from sandlab.errors import InputError, SpecsError
from sandlab.exchange.instruments import Heard, Journal
from sandlab.exchange.instruments.pattern import values_in
from sandlab.lab import instruments as verbs
from sandlab.lab.listening import listen
from sandlab.lab.opening import Lab, open_lab
from sandlab.records import Batch, Sample
from tests.lab.conftest import Clock, Ids

SPECS = """
[tester]
label = "Strength tester"
connection = "folder"
port = "drop"
lines = ["GCS {green_compression_strength} N/cm2", "MB {methylene_blue.titrant} ml", "CB {compactability}"]
units = { green_compression_strength = "N/cm2" }
offered_min = 10

[muller]
label = "Muller"
connection = "folder"
port = "batches"
gives = "batch"
lines = ["{number};{any};{return_sand_kg};{water_kg};{bentonite_kg}"]
"""


@pytest.fixture
def wired(tmp_path: Path, clock: Clock) -> Iterator[Lab]:
    """A plant with two instruments; psi is what it shows."""
    folder = tmp_path / "plant"
    (folder / "specs").mkdir(parents=True)
    lab = open_lab(folder, clock=clock, new_id=Ids())
    method = next(
        name for name, one in lab.specs.methods.items() if one.property == "active_clay" and one.readings
    )
    reading = next(iter(lab.specs.methods[method].readings))
    lab.close()
    text = SPECS.replace("methylene_blue.titrant", f"{method}.{reading}")
    (folder / "specs" / "instruments.toml").write_text(text, encoding="utf-8")
    (folder / "specs" / "system.toml").write_text('[plant.units]\npressure = "psi"\n', encoding="utf-8")
    lab = open_lab(folder, clock=clock, new_id=Ids())
    yield lab
    lab.close()


def say(lab: Lab, key: str, line: str) -> None:
    """What a listener writes down when the instrument says this."""
    values = values_in(line, lab.specs.instruments[key], lab.specs, lab.system)
    Journal(lab.folder).hear(Heard(lab.new_id(), key, lab.now(), line, values))


def test_a_value_is_offered_in_the_plants_unit_and_saved_by_nobody(wired: Lab) -> None:
    """16.5 N/cm2 are 165 kPa, and 23.9 psi by the definition of the pound-force (23.931)."""
    say(wired, "tester", "GCS 16,5 N/cm2")
    (offer,) = verbs.offers(wired)
    assert (offer.target, offer.unit) == ("green_compression_strength", "psi")
    assert offer.value == pytest.approx(23.931, abs=5e-4)
    assert offer.words.startswith("Strength tester shows ")
    assert wired.store.records(Sample, wired.system) == ()


def test_the_newest_value_counts_and_old_ones_lapse(wired: Lab, clock: Clock) -> None:
    """A second reading replaces the first; after ten minutes nothing is offered."""
    say(wired, "tester", "CB 41")
    clock.move(minutes=1)
    say(wired, "tester", "CB 43")
    (offer,) = verbs.offers(wired)
    assert offer.text == "43"
    clock.move(minutes=11)
    assert verbs.offers(wired) == ()


def test_a_value_taken_is_offered_no_more(wired: Lab) -> None:
    """By whoever looks."""
    say(wired, "tester", "CB 41")
    (offer,) = verbs.offers(wired)
    verbs.take(wired, [offer.reading], by="KD")
    assert verbs.offers(wired) == ()


def test_a_reading_of_a_method_can_be_offered(wired: Lab) -> None:
    """Named METHOD.READING."""
    say(wired, "tester", "MB 38.5 ml")
    (offer,) = verbs.offers(wired)
    assert "." in offer.target
    assert offer.value == 38.5


def test_batches_wait_until_somebody_logs_them(wired: Lab, clock: Clock) -> None:
    """Hours later, with the muller's number and time; then they wait no more."""
    say(wired, "muller", "4711;recipe A;1498;27,5;10.5")
    made = clock()
    clock.move(hours=3)
    say(wired, "muller", "4712;recipe A;1502;28;10.0")
    assert [one.number for one in verbs.batch_offers(wired)] == [4711, 4712]
    assert wired.store.records(Batch, wired.system) == ()
    first, _ = verbs.log_offered_batches(wired, by="KD")
    assert (first.number, first.at, first.return_sand_kg) == (4711, made, 1498.0)
    assert first.added_kg == {"water": 27.5, "bentonite": 10.5}
    assert verbs.batch_offers(wired) == ()
    with pytest.raises(InputError, match="none is waiting"):
        verbs.log_offered_batches(wired, by="KD")


def test_a_batch_that_is_reported_twice_is_logged_once(wired: Lab) -> None:
    """Before it is logged and after."""
    say(wired, "muller", "4711;a;1498;27,5;10.5")
    say(wired, "muller", "4711;a;1498;27,5;10.5")
    assert len(verbs.log_offered_batches(wired, by="KD")) == 1
    say(wired, "muller", "4711;a;1498;27,5;10.5")
    assert verbs.batch_offers(wired) == ()


def test_more_than_a_feeder_gives_is_refused_whole(wired: Lab) -> None:
    """No batch is logged, and both still wait."""
    say(wired, "muller", "4711;a;1498;27,5;10.5")
    say(wired, "muller", "4712;a;1498;61;10.5")
    with pytest.raises(InputError, match="61 kg is impossible"):
        verbs.log_offered_batches(wired, by="KD")
    assert len(verbs.batch_offers(wired)) == 2
    assert wired.store.records(Batch, wired.system) == ()


def test_one_process_listens_and_the_state_says_so(wired: Lab) -> None:
    """A second is told that somebody does; afterwards nobody is connected."""
    listening = listen(wired)
    assert listening is not None
    assert verbs.instruments(wired).listening
    listening.stop()
    facts = verbs.instruments(wired)
    assert not facts.listening
    assert {one.state for one in facts.instruments} == {"not_listened_to"}


def test_wrong_instruments_are_reported_all_at_once(tmp_path: Path) -> None:
    """Where, what, and the nearest name."""
    folder = tmp_path / "plant" / "specs"
    folder.mkdir(parents=True)
    text = (
        '[a]\nlabel = "A"\nconnection = "tcp"\nport = "nowhere"\nlines = ["{moistur} %", "no value"]\n'
        'units = { moisture = "kPa" }\npoint = "muller"\n'
    )
    (folder / "instruments.toml").write_text(text, encoding="utf-8")
    with pytest.raises(SpecsError) as caught:
        open_lab(tmp_path / "plant")
    said = "\n".join(map(str, caught.value.problems))
    for part in (
        "'moistur' is not known",
        "moisture",
        '"no value" names no value',
        "'kPa' is not a unit",
        "address",
    ):
        assert part in said
    assert "'muller' is not known" in said
