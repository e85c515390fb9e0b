"""The screens in a browser: typed in Chromium, found in the records; nothing is fetched from outside."""

from __future__ import annotations

import asyncio
import io
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from urllib.request import urlopen

import pytest
from aiohttp import ClientSession, WSServerHandshakeError
from PIL import Image
from textual import events

from sandlab.cli import main
from sandlab.lab.opening import open_lab
from sandlab.screens.serving import address_problems
from tests.lab.conftest import Clock
from tests.screens.browser import CHROMIUM, PATIENCE_S, chromium
from tests.screens.hand import Hand, play


@pytest.fixture
def address(plant: Path) -> Iterator[str]:
    """Where the tool is served on the plant."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    words = [sys.executable, "-m", "sandlab", "serve", "--plant", str(plant), "--port", str(port)]
    server = subprocess.Popen(words, stdout=subprocess.DEVNULL)
    url = f"http://127.0.0.1:{port}"
    end = time.monotonic() + PATIENCE_S
    while True:
        with suppress(OSError), urlopen(url) as page:
            assert page.status == 200
            break
        assert time.monotonic() < end and server.poll() is None, "nothing is served"
        time.sleep(0.1)
    yield url
    server.send_signal(signal.SIGINT)
    assert server.wait(PATIENCE_S) == 0


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed")
def test_a_sample_typed_in_a_browser_is_in_the_records(plant: Path, address: str, tmp_path: Path) -> None:
    async def story() -> None:
        async with chromium(tmp_path / "profile") as browser:
            await browser.open(address)
            await browser.until("document.body.classList.contains('-first-byte')")
            await browser.until("document.activeElement.className == 'xterm-helper-textarea'")
            for text in ("41", "3.31", "", "", "", "", ""):
                await browser.type(text)
                await browser.press("enter")
            await browser.type("QZ")
            await browser.press("enter")
            end = asyncio.get_running_loop().time() + PATIENCE_S
            while not saved(plant):
                assert asyncio.get_running_loop().time() < end, "the sample was not saved"
                await asyncio.sleep(0.2)
            colours = Image.open(io.BytesIO(await browser.picture())).convert("RGB").getcolors(1 << 24)
            assert colours and len(colours) > 10, "the picture is empty"
            assert len(browser.requests) >= 5
            assert all(url.split("://")[1].startswith(address.split("://")[1]) for url in browser.requests)

    asyncio.run(story())
    assert saved(plant) == {"compactability": 41.0, "moisture": 3.31}


def saved(plant: Path) -> dict[str, float]:
    """What QZ measured."""
    lab = open_lab(plant, readonly=True)
    try:
        found = [one for one in lab.store.samples(lab.system, last=2) if one.by == "QZ"]
        keys = ("compactability", "moisture")
        return {r.property: r.value for one in found for r in one.results if r.property in keys}
    finally:
        lab.close()


def test_pages_of_other_sites_are_refused(address: str) -> None:
    async def knock() -> None:
        async with ClientSession() as session:
            for headers in ({"Origin": "http://elsewhere.example"}, {"Host": "elsewhere.example"}):
                async with session.get(address, headers=headers) as answer:
                    assert answer.status == 403
                with pytest.raises(WSServerHandshakeError, match="403"):
                    await session.ws_connect(f"{address}/ws", headers=headers)
            async with session.get(address) as answer:
                assert "default-src 'self'" in answer.headers["Content-Security-Policy"]
                assert "//" not in (await answer.text()).replace(address.removeprefix("http:"), "")

    asyncio.run(knock())


@pytest.mark.parametrize("host", ["0.0.0.0", "192.0.2.7", "::", "sand.example.org"])
def test_other_machines_reach_it_only_when_told(host: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["serve", "--host", host, "--port", "70000"]) == 1
    said = capsys.readouterr().err
    assert "asks nobody for a password" in said and "reverse proxy" in said and "70000 is impossible" in said
    assert not address_problems(host, 8023, "", beyond_this_machine=True)


@pytest.mark.parametrize("host", ["127.0.0.1", "::1", "localhost", "127.8.9.1"])
def test_this_machine_is_where_it_serves(host: str) -> None:
    assert not address_problems(host, 8023, "", beyond_this_machine=False)
    assert len(address_problems(host, 0, "sand.example.org", beyond_this_machine=False)) == 2


def test_a_window_in_the_background_keeps_its_cursor(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        hand.app.post_message(events.AppBlur())
        await hand.press("f5")
        await hand.type("QZ")
        await hand.press("enter")
        assert hand.app.technician == "QZ"

    play(story, plant, clock=clock)
