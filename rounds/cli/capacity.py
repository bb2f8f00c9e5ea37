"""`rounds capacity`: how many fish of what size a tank can take, each limit opened."""

from __future__ import annotations

import argparse

from rounds.cli.opened import Opened, opened, place_code
from rounds.cli.out import say, why
from rounds.day.lots.moving import plan_lines
from rounds.day.lots.room import Room, room


def run(asked: argparse.Namespace) -> int:
    """Print the room of one tank; nothing is written."""
    with opened(asked, writes=False) as farm:
        place = farm.site.places[place_code(farm.site, asked.place)]
        found = room(farm.site, farm.farm, place, farm.now, asked.weight, asked.count)
        if asked.json:
            farm.emit("capacity", [found])
        else:
            _show(farm, found)
    return 0


def _show(farm: Opened, found: Room) -> None:
    say(f"{found.place}: {found.now_kg:.1f} kg now, asked for fish of {found.weight_g:.4g} g.")
    if found.kg is None:
        say("How many it can take cannot be worked out yet.")
    else:
        most = "at most " if found.at_most else ""
        say(f"It can take {most}{found.fish} of them, {found.kg:.1f} kg: {found.governs} governs.")
    if found.count is not None and found.fits is not None:
        fits = f"{found.count} fish of that size {'fit' if found.fits else 'DO NOT FIT'}"
        if found.fits and found.at_most:
            fits = f"{found.count} fish of that size fit by what is known"
        grow = f"; they may grow to {found.grow_to_g:.4g} g" if found.grow_to_g else ""
        say(f"{fits}{grow}.", hang=2)
    for caution in found.cautions:
        say(f"! {caution}.", hang=2)
    for says in found.dates:
        say(f"Reached: {says}.", hang=2)
    for one in found.plans:
        say("", f"Next for {one.lot}:")
        say(*(f"  {text}." for text in plan_lines(one)), hang=2)
    say("", f"{'Limit':<16}{'kg':>9}{'fish':>9}")
    for limit in found.limits:
        if limit.kg is None:
            say(f"{limit.name:<16}{'-':>9}{'-':>9}  {limit.missing}", hang=36)
        else:
            say(f"{limit.name:<16}{limit.kg:>9.1f}{limit.fish:>9}")
    for limit in found.limits:
        if limit.kg is not None:
            say(f"Why {limit.name}:")
            why(limit.reasons, farm.site.display_units)
