"""What instruments show, in the entry form: offered, taken with one key, never saved by itself."""

from __future__ import annotations

import os
from pathlib import Path

from sandlab.exchange.instruments import Journal
from sandlab.records import Batch, Sample
from tests.exchange.instrument_bench import FarEnd
from tests.screens.conftest import NOW, lab_of
from tests.screens.hand import Hand, play


def wire(folder: Path, port: str) -> None:
    """A balance on a serial line, and a muller that drops files."""
    text = (
        f'[balance]\nlabel = "Balance"\nconnection = "serial"\nport = "{port}"\n'
        'lines = ["{specimen_weight} g", "CB {compactability}"]\n'
        '[muller]\nlabel = "Muller"\nconnection = "folder"\nport = "drop"\ngives = "batch"\n'
        'lines = ["{number};{return_sand_kg};{water_kg}"]\n'
    )
    (folder / "specs" / "instruments.toml").write_text(text, encoding="utf-8")
    (folder / "drop").mkdir()


async def connected(hand: Hand, folder: Path) -> None:
    """Wait until the balance is listened to: what it says before that is not heard."""
    for _ in range(1000):
        state = Journal(folder).states().get("balance")
        if state is not None and state.connected:
            return
        await hand.pilot.pause(0.01)
    raise AssertionError("nobody listens")


def counts(folder: Path) -> tuple[int, int]:
    """Samples and batches recorded."""
    with lab_of(folder) as lab:
        return len(lab.store.records(Sample, lab.system)), len(lab.store.records(Batch, lab.system))


def test_a_value_shown_is_taken_with_one_key_and_saved_by_the_technician(plant: Path) -> None:
    """Space takes it and moves on; a field that holds something takes nothing; Enter at the end saves."""
    far = FarEnd()
    wire(plant, far.port)
    before = counts(plant)

    async def story(hand: Hand) -> None:
        await hand.type(" ")
        assert "No instrument shows a value" in hand.text()
        await connected(hand, plant)
        far.send(b"CB 43\r\n151.4 g\r\n")
        await hand.until("Space takes 43, Balance", within_s=20)
        await hand.until("Space takes 151.4, Balance", within_s=20)
        assert counts(plant) == before
        await hand.type(" ")
        form = hand.app.screen.forms.current  # type: ignore[attr-defined]
        assert form.fields[0].text == "43"
        assert hand.app.focused is form.fields[1].input
        await hand.type("3.3 ")
        assert form.fields[1].input.value == "3.3 "
        await hand.until("Space takes 151.4", within_s=5)
        assert "Space takes 43" not in hand.text()
        assert counts(plant) == before

    play(story, plant, clock=lambda: NOW)
    os.close(far.handle)


def test_a_lost_line_is_told_and_no_key_waits_for_it(plant: Path) -> None:
    """Since when, above the form; typing goes on."""
    far = FarEnd()
    wire(plant, far.port)

    async def story(hand: Hand) -> None:
        await connected(hand, plant)
        far.send(b"CB 43\n")
        await hand.until("Space takes 43", within_s=20)
        far.hang_up()
        await hand.until("Balance: line lost since Wed 13:07", within_s=20)
        await hand.type("42")
        await hand.press("enter")
        form = hand.app.screen.forms.current  # type: ignore[attr-defined]
        assert form.fields[0].text == "42"

    play(story, plant, clock=lambda: NOW)


def test_batches_reported_by_the_muller_are_logged_after_one_deliberate_key(plant: Path) -> None:
    """Told above the form, shown with their kilograms, logged with F6 and not before."""
    far = FarEnd()
    wire(plant, far.port)
    samples, batches = counts(plant)
    (plant / "drop" / "1.txt").write_text("4711;1498;27,5\n4712;1502;28\n", encoding="utf-8")

    async def story(hand: Hand) -> None:
        await hand.until("Muller: 2 to log, Ctrl+K", within_s=20)
        await hand.press("ctrl+k")
        assert "reports batch 4711" in hand.words()
        assert "water 27.5 kg" in hand.words()
        assert counts(plant) == (samples, batches)
        await hand.press("f6")
        await hand.until("2 batches logged", within_s=20)
        assert counts(plant) == (samples, batches + 2)

    play(story, plant, clock=lambda: NOW)
    os.close(far.handle)


def test_a_reading_of_a_method_is_taken_in_the_box_of_readings(plant: Path) -> None:
    """A burette that sends millilitres: Space takes them into the reading, the result is worked out."""
    far = FarEnd()
    with lab_of(plant) as lab:
        key, method = next(
            (key, one)
            for key, one in lab.specs.methods.items()
            if one.property == "compactability" and len(one.readings) == 1
        )
    reading = next(iter(method.readings))
    low, high = method.readings[reading].low, method.readings[reading].high
    text = (
        f'[balance]\nlabel = "Gauge"\nconnection = "serial"\nport = "{far.port}"\n'
        f'lines = ["R {{{key}.{reading}}}"]\n'
    )
    (plant / "specs" / "instruments.toml").write_text(text, encoding="utf-8")

    async def story(hand: Hand) -> None:
        await connected(hand, plant)
        await hand.press("f6")
        far.send(f"R {(low + high) / 2:g}\n".encode())
        await hand.until("Space takes it", within_s=20)
        await hand.type(" ")
        assert any(one.value for one in hand.app.screen.order())  # type: ignore[attr-defined]

    play(story, plant, clock=lambda: NOW)
    os.close(far.handle)
