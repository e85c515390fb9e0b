"""`sandlab serve`: the screens in a browser."""

from __future__ import annotations

from argparse import Namespace
from typing import Any

HELP = "the screens in a browser on this machine"
EPILOG = """\
There is no login: by default only this machine reaches it. For others put a reverse proxy with login and TLS
in front of it, forward / and /ws (a web socket) and the Host header, and name its address with --public-url.
"""


def add(commands: Any, command: Any) -> None:
    """The words of the command."""
    from argparse import RawDescriptionHelpFormatter

    parser = command(commands, "serve", HELP, serve, json=False)
    parser.epilog, parser.formatter_class = EPILOG, RawDescriptionHelpFormatter
    parser.add_argument("--host", default="127.0.0.1", metavar="ADDRESS")
    parser.add_argument("--port", type=int, default=8023, metavar="N")
    parser.add_argument(
        "--public-url", default="", metavar="URL", help="how browsers reach the reverse proxy"
    )
    parser.add_argument(
        "--beyond-this-machine", action="store_true", help="allow an address that other machines reach"
    )


def serve(args: Namespace) -> int:
    """Serve the screens until Ctrl+C."""
    from sandlab.cli.commands import folder_of
    from sandlab.screens.serving import serve as serve_screens

    serve_screens(
        folder_of(args),
        system=args.system,
        host=args.host,
        port=args.port,
        public_url=args.public_url,
        beyond_this_machine=args.beyond_this_machine,
    )
    return 0
