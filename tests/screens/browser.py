"""A headless Chromium driven over its DevTools socket: keys in, pictures and the list of requests out."""

from __future__ import annotations

import asyncio
import base64
import re
import shutil
import subprocess
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from aiohttp import ClientSession, ClientWebSocketResponse

CHROMIUM = shutil.which("chromium")
PATIENCE_S = 60.0
NAMED = {"enter": ("Enter", 13), "f2": ("F2", 113), "f3": ("F3", 114), "f4": ("F4", 115), "f9": ("F9", 120)}


class Browser:
    """One page."""

    def __init__(self, socket: ClientWebSocketResponse) -> None:
        self.socket = socket
        self.requests: list[str] = []
        self._page = ""
        self._number = 0

    async def ask(self, method: str, **parameters: Any) -> dict[str, Any]:
        """One DevTools command; events that come meanwhile are kept."""
        self._number += 1
        number = self._number
        words = {"id": number, "method": method, "params": parameters}
        await self.socket.send_json(words | ({"sessionId": self._page} if self._page else {}))
        while True:
            answer = await self.socket.receive_json(timeout=PATIENCE_S)
            if answer.get("method") in ("Network.requestWillBeSent", "Network.webSocketCreated"):
                seen = answer["params"]
                self.requests.append(seen["request"]["url"] if "request" in seen else seen["url"])
            if answer.get("id") == number:
                assert "error" not in answer, answer["error"]
                return dict(answer["result"])

    async def open(self, url: str) -> None:
        """Show a page."""
        target = await self.ask("Target.createTarget", url="about:blank")
        attached = await self.ask("Target.attachToTarget", targetId=target["targetId"], flatten=True)
        self._page = attached["sessionId"]
        await self.ask("Network.enable")
        await self.ask("Page.enable")
        await self.ask("Page.navigate", url=url)

    async def value(self, script: str) -> Any:
        """What a line of script gives."""
        answer = await self.ask("Runtime.evaluate", expression=script, returnByValue=True)
        return answer["result"].get("value")

    async def until(self, script: str) -> None:
        """Wait until a line of script is true."""
        loop = asyncio.get_running_loop()
        end = loop.time() + PATIENCE_S
        while not await self.value(script):
            assert loop.time() < end, f"never true: {script}"
            await asyncio.sleep(0.1)

    async def press(self, name: str) -> None:
        """A named key."""
        key, code = NAMED[name]
        extra = {"text": "\r"} if name == "enter" else {}
        common = {"key": key, "code": key, "windowsVirtualKeyCode": code}
        await self.ask("Input.dispatchKeyEvent", type="keyDown", **common, **extra)
        await self.ask("Input.dispatchKeyEvent", type="keyUp", **common)

    async def type(self, text: str) -> None:
        """Characters."""
        for char in text:
            await self.ask("Input.dispatchKeyEvent", type="keyDown", key=char, text=char)
            await self.ask("Input.dispatchKeyEvent", type="keyUp", key=char)

    async def picture(self) -> bytes:
        """The page as PNG."""
        answer = await self.ask("Page.captureScreenshot", format="png")
        return base64.b64decode(answer["data"])


@asynccontextmanager
async def chromium(profile: Path) -> AsyncIterator[Browser]:
    """A browser that can reach this machine and nothing else."""
    assert CHROMIUM
    words = [CHROMIUM, "--headless=new", "--no-sandbox", "--disable-gpu", "--remote-debugging-port=0"]
    words += ["--disable-dev-shm-usage", "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1"]
    words += ["--window-size=1000,600", f"--user-data-dir={profile}", "about:blank"]
    process = subprocess.Popen(words, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True)
    assert process.stderr
    try:
        address = ""
        while not address:
            line = await asyncio.to_thread(process.stderr.readline)
            assert line, "Chromium did not start"
            address = (re.findall(r"ws://\S+", line) or [""])[0]
        async with ClientSession() as session, session.ws_connect(address, max_msg_size=0) as socket:
            yield Browser(socket)
    finally:
        process.kill()
        process.wait()
        process.stderr.close()
