"""The air sheet: how long each tank lasts from now if air or flow stops, the shortest first."""

from __future__ import annotations

from collections.abc import Sequence

from rounds.day.loops.air import minutes
from rounds.reports import air as words
from rounds.screens.ink import ink
from rounds.screens.listing import Listing, Row


class AirPage(Listing):
    """One row a tank with fish and a loop, what lasts shortest on top."""

    about = (
        "The air sheet shows how many minutes a tank lasts from now if air or flow stops: until "
        "oxygen falls to 60 % one must have acted, at 40 % losses begin. ~ is reckoned from an old "
        "reading: read oxygen again. W opens why. It watches nothing: an independent alarm for "
        "oxygen and level is the guard."
    )
    nothing = "No fish on record: nothing to reckon"

    def __init__(self) -> None:
        super().__init__("AIR")

    def listed(self) -> Sequence[Row]:
        """Work out every tank and loop."""
        desk = self.desk
        now, zone = desk.now(), desk.site.timezone
        found = [
            (one.place, words.air(one, now, zone)) for one in minutes(desk.site, desk.farm, now)
        ]
        return [Row(ink(told.title), told, place) for place, told in found]
