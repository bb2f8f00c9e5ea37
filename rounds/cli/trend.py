"""`rounds trend`: one measure of a place over time, drawn with its limits and what happened."""

from __future__ import annotations

import argparse
from datetime import timedelta
from typing import Any

from rounds.cli.failure import Failure
from rounds.cli.growth import draw
from rounds.cli.opened import Opened, opened, place_code
from rounds.cli.out import WIDTH, block, say
from rounds.day.lots.growth import growths
from rounds.day.telling.trends import Trend, measures_of, trend
from rounds.reports.trend import TANKS, chart, heading, says
from rounds.site.measures import MEASURES

_HEIGHT = 22


def run(asked: argparse.Namespace) -> int:
    """Print a trend; without a measure, which have been read there. Nothing is written."""
    with opened(asked, writes=False) as farm:
        code = place_code(farm.site, asked.place)
        if asked.measure == "weight":
            return _weight(farm, code, as_json=asked.json)
        read = measures_of(farm.farm, farm.site.places[code])
        if asked.measure is None:
            known = (*read, *(("weight",) if farm.farm.stocks.get(code) else ()))
            if asked.json:
                farm.emit("trend", ({"place": code, "measure": one} for one in known))
            else:
                say(f"Read in {code}: {', '.join(known) or 'nothing yet'}", hang=2)
            return 0
        found = _trend(farm, code, asked)
        if asked.json:
            rows = [_row(found, n) for n in range(len(found.curves))]
            farm.emit("trend", rows)
        else:
            say(heading(farm.site, found))
            say(*says(farm.site, found), hang=2)
            block("\n".join(chart(farm.site, found, width=WIDTH, height=_HEIGHT)))
    return 0


def _trend(farm: Opened, code: str, asked: argparse.Namespace) -> Trend:
    if asked.measure not in MEASURES:
        raise Failure(f"there is no measure {asked.measure}: {', '.join(MEASURES)}, weight")
    others = [place_code(farm.site, typed) for typed in asked.compare]
    codes = list(dict.fromkeys([code, *others]))
    if len(codes) > len(TANKS):
        raise Failure(f"at most {len(TANKS)} places are drawn together")
    if asked.days is not None and not 1 <= asked.days <= 36_500:
        raise Failure(f"--days {asked.days} is not 1 to 36500")
    since = None if asked.life else farm.now - timedelta(days=asked.days or 7)
    return trend(farm.site, farm.farm, codes, asked.measure, since, farm.now)


def _weight(farm: Opened, code: str, *, as_json: bool) -> int:
    found = [one for one in growths(farm.site, farm.farm, farm.now) if one.place == code]
    if not found:
        raise Failure(f"{code} has no fish on record")
    if as_json:
        farm.emit("trend", found)
    for one in found if not as_json else ():
        draw(farm, one)
    return 0


def _row(found: Trend, n: int) -> dict[str, Any]:
    curve = found.curves[n]
    return {
        "place": curve.place, "measure": found.measure, "unit": found.unit,
        "since": found.since, "until": found.until, "points": curve.points,
        "lowest": curve.lowest, "highest": curve.highest, "last": curve.last,
        "pace_a_day": curve.pace,
        "crosses": None if curve.crosses is None
        else {"limit": curve.crosses[0], "at": curve.crosses[1]},
        "limits": found.edges if n == 0 or curve.place not in found.other_limits else None,
        "events": [event for event in found.events if event.place == curve.place],
        "reasons": [], "cautions": [], "missing": [],
    }  # fmt: skip
