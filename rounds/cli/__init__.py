"""The command line: a command prints what a screen shows, on the same core."""

from __future__ import annotations

import os
import sys
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
    try:
        asked = _asked(sys.argv[1:] if argv is None else argv)
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

        sys.stderr.write(f"rounds: {clean(_sentence(error), limit=400)}\n")
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


def _sentence(error: Exception) -> str:
    """Return what went wrong in one sentence; a fault of the program is told as one."""
    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename}: {error.strerror}" if error.filename else error.strerror
    if isinstance(error, Failure | ValueError):
        return str(error)
    return f"a fault of the program, {type(error).__name__}: {error}. What was kept is safe"
