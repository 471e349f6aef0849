"""`duskhand serve`: the daemon."""

from __future__ import annotations

import argparse
import asyncio
import logging
from pathlib import Path

from controller.commands import add_directory
from controller.commands.asking import DEFAULT_PORT, THIS_MACHINE
from controller.commands.figures import whole
from controller.words.errors import BadInput

log = logging.getLogger(__name__)


def add(parser: argparse.ArgumentParser) -> None:
    add_directory(parser)
    parser.add_argument(
        "--host", default="127.0.0.1", help="address to listen on (default: %(default)s, this machine only)"
    )
    parser.add_argument(
        "--port", type=whole, default=DEFAULT_PORT, help="port of the page and of REST (default: %(default)s)"
    )
    parser.add_argument(
        "--certificate",
        type=Path,
        metavar="FILE",
        help="serve over TLS with this certificate, those that vouch for it after it, in PEM form; with --key",
    )
    parser.add_argument("--key", type=Path, metavar="FILE", help="the certificate's key, in PEM form")
    parser.add_argument(
        "--camera",
        action="append",
        default=[],
        metavar="ADDRESS",
        help="libgphoto2 port such as usb: or ptpip:192.168.1.1, once for each; without it every USB camera found",
    )
    parser.add_argument(
        "--power-cycle",
        metavar="COMMAND",
        help="takes a camera's power away and gives it back, run where nothing else has brought a lost one back",
    )
    parser.add_argument("--verbose", action="store_true", help="log technical lines too, with the part that says them")


def run(args: argparse.Namespace) -> int:
    """Serve until the process is asked to end."""
    return asyncio.run(_serve(args))


async def _serve(args: argparse.Namespace) -> int:
    from api.tls import Tls
    from controller.camera.power import PowerCycle
    from controller.commands.notify import Notifier
    from controller.commands.service import answers, on_signal, own_addresses, serving, start_log
    from controller.commands.standard import tell
    from controller.daemon import Rig
    from controller.words.clock import WallClock

    if not args.host:
        raise BadInput("bad-host", "no address", "--host", "Give 0.0.0.0 for every network, 127.0.0.1 for this machine")
    power = None if args.power_cycle is None else PowerCycle(args.power_cycle)
    if (args.certificate is None) != (args.key is None):
        alone = "--key" if args.certificate is None else "--certificate"
        raise BadInput("bad-certificate", "it is given alone", alone, "Give both --certificate and --key")
    if twice := [address for address in args.camera if args.camera.count(address) > 1]:
        raise BadInput("camera-twice", f"{twice[0]} is named twice", "--camera", "Name each camera once")
    start_log(verbose=args.verbose)
    notifier = Notifier()  # before any process of the rig's begins
    tls = None if args.certificate is None else Tls(args.certificate, args.key)
    stop = asyncio.Event()
    on_signal(stop)
    async with serving(Rig(args.dir, WallClock(), args.camera, power), args.host, args.port, tls) as server:
        tell(f"Duskhand serves {server.url} from {args.dir}")
        scheme, port = server.url.partition(":")[0], server.url.rstrip("/").rpartition(":")[2]
        if args.host in THIS_MACHINE:
            tell("Open that address in a browser; only this machine can reach it.")
            tell("For a phone: --host 0.0.0.0, then let it in with `duskhand pair`.")
        else:
            for address in own_addresses():
                if answers(address, int(port)):
                    tell(f"On a phone in the same network: {scheme}://{address}:{port}/")
            here = server.url.rstrip("/")
            rig = "" if here.endswith(f"://{THIS_MACHINE[0]}:{DEFAULT_PORT}") else f" --rig {here}"
            tell(f"A phone is let in by a code, which `duskhand pair{rig}` shows.")
        notifier.send(READY=1, STATUS=f"serves {server.url}")
        alive = asyncio.create_task(notifier.keep_alive(server.rig.trouble))
        await stop.wait()
        alive.cancel()
        notifier.send(STOPPING=1)
        log.info("Duskhand ends. A shoot that is under way goes on when it serves again")
    return 0
