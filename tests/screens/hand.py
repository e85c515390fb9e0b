"""A hand on the keyboard: types, waits until everything asked of the lab is answered, reads the screen."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from textual import events
from textual.pilot import Pilot

from sandlab.screens.app import SandlabApp

NAMES = {
    ".": "full_stop",
    ",": "comma",
    "*": "asterisk",
    "/": "slash",
    "+": "plus",
    "-": "minus",
    "?": "question_mark",
    " ": "space",
    ":": "colon",
    "<": "less_than_sign",
}
PATIENCE_S = 40.0
STILL = 2
"""So many frames without a change count as drawn."""
FRAME_S = 0.02
"""Longer than a frame of the screen, which is drawn 60 times a second."""


class Hand:
    """Keys in, text out."""

    def __init__(self, app: SandlabApp, pilot: Pilot[int]) -> None:
        self.app = app
        self.pilot = pilot
        self.keys = 0

    async def type(self, text: str) -> None:
        """Type text, all characters at once, and wait."""
        for char in text:
            self._post(NAMES.get(char, char), char)
        await self.settle()

    async def press(self, *keys: str) -> None:
        """Press named keys one after the other, waiting after each."""
        for key in keys:
            self._post(key, None)
            await self.settle()

    def _post(self, key: str, char: str | None) -> None:
        self.keys += 1
        self.app.post_message(events.Key(key, char))

    async def settle(self) -> None:
        """Wait until no job is under way and what is drawn stays the same."""
        deadline = asyncio.get_running_loop().time() + PATIENCE_S
        same, text = 0, ""
        while same < STILL and not self.app._exit:
            await self.pilot.pause(0)
            await asyncio.sleep(FRAME_S)
            same = same + 1 if text == self.text() and text.strip() and not self._busy() else 0
            text = self.text()
            assert asyncio.get_running_loop().time() < deadline, "the lab does not answer"
        assert not self.app.desk.crashes, self.app.desk.crashes

    def _busy(self) -> bool:
        """Whether a job is under way, or a key waits for a screen that is not ready for it."""
        app = self.app
        return bool(app.desk.pending or app.waiting or not app._takes_keys())

    async def until(self, words: str, *, within_s: float) -> float:
        """Wait until these words are on the screen; seconds it took."""
        loop = asyncio.get_running_loop()
        start = loop.time()
        while words not in self.text():
            assert loop.time() - start < within_s, f"'{words}' is not there:\n{self.text()}"
            await self.pilot.pause(0.01)
        return loop.time() - start

    def text(self) -> str:
        """The whole screen as plain text."""
        strips = self.app.screen._compositor.render_strips()
        return "\n".join("".join(segment.text for segment in strip).rstrip() for strip in strips)

    def words(self) -> str:
        """The text of the screen, or of the box on top, in one line: a sentence is found however wrapped."""
        lines = self.text().split("\n")
        for panel in self.app.screen.query("#panel"):
            box = panel.content_region
            lines = [line.ljust(box.right)[box.x : box.right] for line in lines[box.y : box.bottom]]
        return " ".join(" ".join(lines).split())


Story = Callable[[Hand], Awaitable[None]]


@asynccontextmanager
async def opened(folder: Path, *, size: tuple[int, int] = (80, 24), **options: Any) -> AsyncIterator[Hand]:
    """The tool, open on a plant folder."""
    app = SandlabApp(folder, **{"warm": False, "glyphs": "full", "technician": "AK", **options})
    async with app.run_test(size=size) as pilot:
        hand = Hand(app, pilot)
        await hand.settle()
        yield hand


def play(story: Story, folder: Path, *, size: tuple[int, int] = (80, 24), **options: Any) -> None:
    """Run one story from the first frame to the end."""

    async def run() -> None:
        async with opened(folder, size=size, **options) as hand:
            await story(hand)

    asyncio.run(run())
