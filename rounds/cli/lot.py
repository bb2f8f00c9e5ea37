"""`rounds lot`: all that is on record of a lot, from its first fish to its last sale."""

from __future__ import annotations

import argparse

from msgspec.structs import asdict

from rounds.cli.failure import Failure
from rounds.cli.opened import opened
from rounds.cli.out import block, say
from rounds.day.telling.lot_sheet import lot_sheet
from rounds.reports.lot import heads_of, render, write


def run(asked: argparse.Namespace) -> int:
    """Print the sheet of a lot, and write it to a file where that is asked for."""
    with opened(asked, writes=False) as farm:
        names = {name.casefold(): name for name in farm.farm.lots}
        lot = names.get(asked.lot.casefold(), asked.lot)
        try:
            sheet = lot_sheet(farm.site, farm.farm, lot, farm.now)
        except ValueError as error:
            raise Failure(str(error)) from None
        if asked.json:
            farm.emit("lot", [{**asdict(sheet), "unread": farm.unread}])
            return 0
        heads = heads_of(farm.site.folder)
        block(render(sheet, heads, "text", farm.unread))
        if asked.write:
            path = write(farm.site.folder, lot, render(sheet, heads, "markdown", farm.unread))
            say("", f"Written to {path}.")
    return 0
