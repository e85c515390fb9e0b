"""Memory over ten thousand redraws of the muller screen, beside a bare Textual app that redraws a text."""

from __future__ import annotations

import argparse
import asyncio
import gc
import multiprocessing
import os
import tempfile
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from textual.app import App, ComposeResult
from textual.pilot import Pilot
from textual.widgets import Static

from sandlab.cli import demo
from sandlab.screens.app import SandlabApp
from sandlab.screens.muller_screen import MullerScreen

SIZE = (80, 24)
EVERY = 100
Redraw = Callable[[int], None]


class Bare(App[None]):
    """One line of text."""

    def compose(self) -> ComposeResult:
        """The line."""
        yield Static("0")


def main(argv: list[str]) -> None:
    """Print resident memory along the way and the slope over the second half of the redraws."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks memory")
    parser.add_argument("--redraws", type=int, default=10_000)
    count = parser.parse_args(argv).redraws
    with tempfile.TemporaryDirectory() as folder:
        plant = Path(folder) / "plant"
        demo.make(plant, seed=7, now=datetime.now(UTC))
        context = multiprocessing.get_context("spawn")
        for name, work in (("bare Textual text", _bare), ("muller screen", _muller)):
            with context.Pool(1) as pool:
                kilobytes = np.array(pool.apply(work, (plant, count)))
            _tell(name, kilobytes)


def _tell(name: str, kilobytes: np.ndarray) -> None:
    half = kilobytes[kilobytes.size // 2 :]
    thousands = np.arange(half.size) * EVERY / 1000.0
    (slope, _), covariance = np.polyfit(thousands, half, 1, cov=True)
    error = float(np.sqrt(covariance[0, 0]))
    print(
        f"{name:<20} {kilobytes[0] / 1024:7.1f} MB at first, {half[0] / 1024:7.1f} half way, "
        f"{half[-1] / 1024:7.1f} at the end; second half {slope:+.2f} +- {2 * error:.2f} kB per 1000 redraws"
    )


def _bare(_plant: Path, count: int) -> list[float]:
    app = Bare()

    async def story(pilot: Pilot[None]) -> list[float]:
        return await _redraws(pilot, lambda number: app.query_one(Static).update(str(number)), count)

    return asyncio.run(_run(app, story))


def _muller(plant: Path, count: int) -> list[float]:
    app = SandlabApp(plant, start="muller", technician="EK", warm=False)

    async def story(pilot: Pilot[int]) -> list[float]:
        while not (isinstance(app.screen, MullerScreen) and app.screen.facts):
            await pilot.pause(0.1)
        screen = app.screen
        facts = screen.facts
        assert facts

        def redraw(number: int) -> None:
            screen.facts = facts.model_copy(update={"sentence": f"Redraw {number}"})
            screen.show()

        return await _redraws(pilot, redraw, count)

    return asyncio.run(_run(app, story))


async def _run(app: App[int] | App[None], story: Callable[[Pilot], Awaitable[list[float]]]) -> list[float]:  # type: ignore[type-arg]
    async with app.run_test(size=SIZE) as pilot:
        return await story(pilot)


async def _redraws(pilot: Pilot, redraw: Redraw, count: int) -> list[float]:  # type: ignore[type-arg]
    """Redraw and let every redraw reach the compositor; resident kilobytes every so often."""
    seen = []
    for number in range(count):
        redraw(number)
        await asyncio.sleep(0)
        await pilot._wait_for_screen()
        pilot.app.screen._on_timer_update()
        pilot.app.screen._compositor.render_strips()
        if number % EVERY == 0:
            gc.collect()
            seen.append(_resident_kb())
    return seen


def _resident_kb() -> float:
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1024.0
