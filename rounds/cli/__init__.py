"""The command line: a command prints what a screen shows, on the same core."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from importlib import import_module
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

from rounds.cli.failure import Failure

if TYPE_CHECKING:
    import argparse

DONE, FINDINGS, FAILED = 0, 1, 2


def main(argv: list[str] | None = None) -> int:
    """Run one command.

    Args:
        argv: Arguments after the program's name; None takes the process's own.

    Returns:
        0 done, 1 findings, 2 an error, told in one sentence on stderr.
    """
    asked = _asked(sys.argv[1:] if argv is None else argv)
    try:
        run = import_module(f"rounds.cli.{asked.command}").run
        code: int = run(asked)
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except KeyboardInterrupt:
        sys.stderr.write("\nStopped. Everything kept before is safe.\n")
        return 130
    except Exception as error:
        from rounds.text import clean

        told = _told(error)
        says = told or f"a fault of the program, {type(error).__name__}: {error}"
        sys.stderr.write(f"rounds: {clean(says, limit=400)}\n")
        if not told:
            sys.stderr.write(
                "Everything shown as kept is on the disk.\n"
                f"Report for the developers (no farm data in it): {_report(error, asked)}\n"
            )
        return FAILED
    return code


def _asked(words: list[str]) -> argparse.Namespace:
    """Return what was asked; the app alone does not wait for the options of every command."""
    asked = cast(
        "argparse.Namespace", SimpleNamespace(command="app", json=False, site=None, by=None)
    )
    if not words:
        return asked
    from rounds.cli.options import parser

    return parser().parse_args(words, asked)


def _told(error: Exception) -> str:
    """Return what went wrong in one sentence; empty where the program is at fault."""
    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename}: {error.strerror}" if error.filename else error.strerror
    return str(error) if isinstance(error, Failure | ValueError) else ""


def _report(error: Exception, asked: argparse.Namespace) -> str:
    """Write the report that the app writes too, and tell where."""
    from datetime import datetime

    from rounds.cli.opened import the_site
    from rounds.records import faults
    from rounds.records.identity import state_folder, state_root

    into = state_root()
    with suppress(Exception):  # the fault may lie in what reads the site
        site = the_site(asked)
        into = state_folder(site.folder, site.id)
    facts = {"command": asked.command}
    path = faults.write(error, facts, datetime.now().astimezone(), into / "log")
    return str(path or "could not be written")
