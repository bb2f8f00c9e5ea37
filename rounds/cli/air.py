"""`rounds air`: minutes of air of every tank, the shortest first; of one place with reasons."""

from __future__ import annotations

import argparse
from typing import Any

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened, place_code
from rounds.cli.out import say, why
from rounds.day.loops.air import AirLine, in_minutes, minutes
from rounds.day.when import spoken


def run(asked: argparse.Namespace) -> int:
    """Print minutes of air; nothing is written."""
    with opened(asked, writes=False) as farm:
        found = minutes(farm.site, farm.farm, farm.now)
        if asked.place is not None:
            code = place_code(farm.site, asked.place)
            found = tuple(line for line in found if line.place == code)
            if not found:
                raise Failure(f"{code} has no fish on record")
        if asked.json:
            rows = [_row(line) for line in found]
            farm.emit("air", rows)
        else:
            _show(farm, found, single=asked.place is not None)
    return 0


def _row(line: AirLine) -> dict[str, Any]:
    """Return a line with the shorter case named; minutes that are never reached are null."""
    return {
        "place": line.place, "kind": line.kind, "text": line.text,
        "shortest": line.shortest.off if line.shortest else None, "cases": line.cases,
        "missing": line.missing, "cautions": line.cautions, "reasons": line.reasons,
    }  # fmt: skip


def _show(farm: Opened, found: tuple[AirLine, ...], *, single: bool) -> None:
    say("Minutes from now until oxygen is at 60 % of saturation (act by) and 40 % (losses).")
    say(f"{'Place':<10}{'Off':<8}{'Act by':>10}{'Losses':>12}")
    for line in found:
        shown = line.cases if single else tuple(filter(None, (line.shortest,)))
        for case in shown:
            act, loss = in_minutes(case.to_act_min), in_minutes(case.to_loss_min)
            since = ""
            if case.since is not None:
                since = f"  OFF since {spoken(case.since, farm.now, farm.site.timezone)}"
            off = case.off if single or line.text.endswith("off") else "either"
            say(f"{line.place:<10}{off:<8}{act:>10}{loss:>12}{since}", hang=10)
        if not line.cases:
            say(f"{line.place:<10}cannot be worked out")
        for missing in line.missing if single or line.kind == "place" else ():
            say(f"          measure: {missing}", hang=2)
        for caution in line.cautions if single else ():
            say(f"          caution: {caution}", hang=2)
        if single:
            say("Why:")
            why(line.reasons, farm.site.display_units)
            for case in line.cases:
                why(case.reasons, farm.site.display_units)
    say("This is not an alarm: an independent one for oxygen and level is the guard.")
