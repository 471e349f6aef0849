"""The console command: one file per subcommand, loaded only when it is asked for.

argparse, not a third library: it is in the standard library, costs nothing at start-up, and already ends with exit
code 2 on bad input.
"""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from pathlib import Path
from types import ModuleType

from controller.words.errors import BadInput, DuskhandError

# name -> one line of help; the module of that name, `-` being `_`, has `add(parser)` and `run(args) -> int`
COMMANDS: dict[str, str] = {
    "demo": "shoot a whole dusk with a simulated camera, and end with a report and a clip",
    "serve": "run the rig: cameras, engine, REST and the page for a phone",
    "plan": "validate a plan and print what it comes to",
    "rehearse": "run a plan in seconds, before a model of sky and camera",
    "sky": "sun, twilight and moon for a place and a day",
    "cameras": "what is attached, with what each can do",
    "check": "is this rig ready for this plan: what to mend first, and the camera's tone curve",
    "pair": "let a phone or a script in by a code, see who was, take it back",
    "messages": "who is told of trouble far away, and a test",
    "support": "one file that tells what is needed to help, without secrets, pictures or the exact place",
    "copies": "what is copied to second places, what waits and why; try again now",
    "shoots": "list the shoots of this rig",
    "frames": "print the frame log of a shoot",
    "report": "what was planned, what was got, and why anything is missing",
    "clip": "make the film of a shoot",
    "hand-over": "put all that an editor needs of a shoot into one folder",
}


def default_directory() -> Path:
    """DUSKHAND_DIR, or the user's data directory (XDG Base Directory Specification)."""
    named = os.environ.get("DUSKHAND_DIR")
    if named:
        return Path(named)
    home = os.environ.get("XDG_DATA_HOME") or "~/.local/share"
    return Path(home).expanduser() / "duskhand"


def add_directory(parser: argparse.ArgumentParser) -> None:
    """The option that every command shares which reads or writes the rig's directory."""
    parser.add_argument(
        "--dir",
        type=Path,
        default=default_directory(),
        metavar="DIR",
        help="the rig's directory: all that it writes (default: %(default)s)",
    )


def module_of(command: str) -> ModuleType:
    return importlib.import_module(f"controller.commands.{command.replace('-', '_')}")


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> None:  # type: ignore[override]
        self.exit(2, f"{self.prog}: {message}. See {self.prog} --help\n")


def main(argv: list[str] | None = None) -> int:
    """Run one command; 0 when it did what was asked, 2 on bad input, 1 when the work itself failed.

    130 after Ctrl-C, 141 where standard output goes into a pipe that nobody reads any more.
    """
    from controller.commands.standard import UNREAD, complain, give_up, not_printed, prepare

    argv = sys.argv[1:] if argv is None else argv
    prepare()
    try:
        try:
            return _run(argv)
        finally:
            sys.stdout.flush()
    except BrokenPipeError:
        return UNREAD
    except OSError as error:
        complain(f"{_named(argv)}: {not_printed(error)}")
        return 1
    finally:
        give_up()


def _named(argv: list[str]) -> str:
    wanted = _wanted(argv)
    return f"duskhand {wanted}" if wanted in COMMANDS else "duskhand"


def _wanted(argv: list[str]) -> str | None:
    return next((word for word in argv if not word.startswith("-")), None)


def _run(argv: list[str]) -> int:
    from controller.commands.standard import complain

    parser = _Parser(prog="duskhand", description="Shoots a time-lapse of a whole dusk, unattended.")
    parser.add_argument("--version", action="store_true", help="print the version and exit")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    wanted = _wanted(argv)
    for name, text in COMMANDS.items():
        sub = commands.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")
        if name == wanted:
            module_of(name).add(sub)
    args, unknown = parser.parse_known_args(argv)
    if unknown:
        at_fault = parser if args.command is None else commands.choices[args.command]
        at_fault.error(f"unknown: {' '.join(unknown)}")
    if args.version:
        from importlib.metadata import version

        print(version("duskhand"))
        return 0
    if args.command is None:
        parser.print_help()
        return 0
    try:
        return int(module_of(args.command).run(args))
    except BadInput as error:
        complain(f"duskhand {args.command}: {error}")
        return 2
    except DuskhandError as error:
        complain(f"duskhand {args.command}: {error}")
        return 1
    except KeyboardInterrupt:
        return 130
