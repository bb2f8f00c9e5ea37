"""`rounds today`: today's sheet, the worst first, with rounds, rations and doses."""

from __future__ import annotations

import argparse
from typing import Any

from msgspec.structs import asdict

from rounds.cli.opened import Opened, opened
from rounds.cli.out import block, say
from rounds.day.feeding import rations
from rounds.day.loops import doses
from rounds.day.telling.handoff import matters
from rounds.records.durable import barred
from rounds.reports.day import sheet


def run(asked: argparse.Namespace) -> int:
    """Print today's sheet; nothing is written."""
    with opened(asked, writes=False) as farm:
        if asked.json:
            farm.emit("today", [_row(farm)])
        else:
            say(*filter(None, [barred(farm.site.folder)]), hang=2)
            block(sheet(farm.site, farm.farm, farm.now, farm.here, farm.unread))
    return 0


def _row(farm: Opened) -> dict[str, Any]:
    document = matters(farm.site, farm.farm, farm.now, farm.by, farm.here, farm.unread)
    row = asdict(document)
    row["barred"] = barred(farm.site.folder)
    row["rations"] = rations.today(farm.site, farm.farm, farm.now)
    row["doses"] = doses.today(farm.site, farm.farm, farm.now, farm.here)
    return row
