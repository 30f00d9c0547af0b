"""Open the web face on this machine, on the book that WETSIDE_HOME names.

It listens on loopback only. With --lan other devices of the network may come in once they are paired: the
terminal shows an address and its code for one device, the page "Pair a device" makes more.
"""

from __future__ import annotations

import argparse
import sys

from wetside.cli.calling import Outcome, path
from wetside.figures.progress import Progress
from wetside.figures.unusable import Unusable

TYPE_CHECKING = False
if TYPE_CHECKING:
    import socket

PORT = 8650


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--port", type=int, default=PORT, help=f"port to listen on; 0 takes a free one ({PORT})"
    )
    parser.add_argument("--lan", action="store_true", help="let paired devices of the network in")
    parser.add_argument("--home", type=path, default=None, help="folder of the book, instead of WETSIDE_HOME")


def listening_socket(port: int, lan: bool) -> socket.socket:
    """A socket bound to the port; raises `Unusable` when it cannot be had."""
    import socket

    if not 0 <= port <= 65535:
        raise Unusable(f"a port is a number from 0 to 65535; found {port}", "--port")
    door = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform != "win32":
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        door.bind(("0.0.0.0" if lan else "127.0.0.1", port))
        door.listen(128)
    except OSError as trouble:
        door.close()
        raise Unusable(
            f"port {port} cannot be had ({trouble.strerror}); another number, or 0 for a free one", "--port"
        ) from trouble
    return door


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    door = listening_socket(args.port, args.lan)
    port = door.getsockname()[1]
    import contextlib
    import socket

    import uvicorn

    from wetside.store.settings import home
    from wetside.web.server import create_app, lan_addresses

    app = create_app(args.home or home(), lan=args.lan)
    address = f"http://127.0.0.1:{port}/"
    say = sys.stderr if args.json else sys.stdout
    print(f"wetside is open at {address}  (Ctrl-C closes it)", file=say, flush=True)
    if args.lan:
        host = next(iter(lan_addresses()), socket.gethostname())
        invite(f"http://{host}:{port}/pair?token={app.state.devices.new_token()}")
    config = uvicorn.Config(
        app, log_level="warning", proxy_headers=False, server_header=False, ws_max_size=65536
    )
    with contextlib.suppress(KeyboardInterrupt):
        uvicorn.Server(config).run(sockets=[door])
    return Outcome({"schema": "wetside.serve/1", "address": address, "closed": True}, "")


def invite(address: str) -> None:
    """The first pairing code, for a phone's camera, on stderr."""
    import segno

    print(f"One device may pair within ten minutes: {address}", file=sys.stderr)
    segno.make(address, error="l").terminal(out=sys.stderr, compact=True)
