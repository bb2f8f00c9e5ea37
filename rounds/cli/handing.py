"""`rounds handoff`: the shift handed on, printed, signed, written as Markdown; or taken over."""

from __future__ import annotations

import argparse

from rounds.cli.failure import Failure
from rounds.cli.opened import opened
from rounds.cli.out import block, emit, say
from rounds.day import handoff
from rounds.reports import handoff as paper


def run(asked: argparse.Namespace) -> int:
    """Print and sign the hand-off, take one over, or only look."""
    writes = not asked.look
    with opened(asked, writes=writes) as farm:
        pass
    return 0
