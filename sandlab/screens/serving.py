"""The screens in a browser: one process for each window, on this machine unless told otherwise."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Awaitable, Callable
from ipaddress import ip_address
from pathlib import Path
from urllib.parse import urlsplit

from aiohttp import web
from textual_serve.server import Server

from sandlab.errors import InputError, Problem

PORT = 8023
PAGE = Path(__file__).with_name("browser")
POLICY = (
    "default-src 'self'; connect-src 'self' {socket}; img-src 'self' data:; style-src 'self' 'unsafe-inline'"
)
"""A browser fetches nothing from outside; styles are written by the terminal widget as it runs."""

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


class BrowserServer(Server):
    """The toolkit's server with a page of our own, closed to pages of other sites."""

    async def _make_app(self) -> web.Application:
        app = await super()._make_app()
        app.middlewares.append(self.guard)
        app.add_routes([web.static("/page", PAGE)])
        return app

    def initialize_logging(self) -> None:
        """No log of its own: what matters is written by the tool's processes."""

    async def on_startup(self, app: web.Application) -> None:
        """Say where the screens are."""
        self.console.print(f"{self.title} is at {self.public_url}   (Ctrl+C ends it)", highlight=False)

    @web.middleware
    async def guard(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        """Refuse requests that another site's page makes: a browser sends them without asking anybody."""
        own = urlsplit(self.public_url)
        origin = urlsplit(request.headers.get("Origin", self.public_url))
        if request.host != own.netloc or origin.netloc != own.netloc:
            raise web.HTTPForbidden(text=f"This server answers at {self.public_url} only.\n")
        answer = await handler(request)
        if not answer.prepared:
            scheme = "wss" if own.scheme == "https" else "ws"
            answer.headers["Content-Security-Policy"] = POLICY.format(socket=f"{scheme}://{own.netloc}")
        return answer


def serve(
    folder: Path,
    *,
    system: str | None = None,
    host: str = "127.0.0.1",
    port: int = PORT,
    public_url: str = "",
    beyond_this_machine: bool = False,
    title: str = "sandlab",
) -> None:
    """Serve the screens on a plant folder until Ctrl+C; raises InputError with every problem."""
    if problems := address_problems(host, port, public_url, beyond_this_machine=beyond_this_machine):
        raise InputError(problems)
    words = [sys.executable, "-m", "sandlab", "--plant", str(folder.absolute())]
    words += ["--system", system] if system else []
    shown = f"[{host}]" if ":" in host else host
    server = BrowserServer(
        shlex.join(words),
        host=host,
        port=port,
        title=title,
        public_url=public_url.rstrip("/") or f"http://{shown}:{port}",
        templates_path=PAGE,
    )
    try:
        server.serve()
    except OSError as error:
        hint = "another program may be using it; choose another with --port"
        raise InputError([Problem(f"port {port}", f"cannot be opened: {error.strerror}", hint)]) from None


def address_problems(
    host: str, port: int, public_url: str, *, beyond_this_machine: bool
) -> tuple[Problem, ...]:
    """Everything that is wrong with where to serve."""
    problems = []
    if not 1 <= port <= 65535:
        problems.append(Problem("port", f"{port} is impossible", "give a number from 1 to 65535"))
    if not is_loopback(host) and not beyond_this_machine:
        what = "can be reached from other machines, and sandlab asks nobody for a password"
        do = "leave it at 127.0.0.1 behind a reverse proxy with login, or add --beyond-this-machine"
        problems.append(Problem(f"host {host}", what, do))
    if public_url and urlsplit(public_url).scheme not in ("http", "https"):
        what, do = f"'{public_url}' is not a web address", "write for example https://sand.example.org"
        problems.append(Problem("public address", what, do))
    return tuple(problems)


def is_loopback(host: str) -> bool:
    """Whether only this machine reaches it."""
    if host == "localhost":
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False
