"""The pond sheet: what the pond bears, its crops in hold, and what each tank would take of it."""

from __future__ import annotations

from collections.abc import Sequence

from rounds.day.forage import need as forage_need
from rounds.day.forage import pond
from rounds.day.forage.need import Asked
from rounds.day.lots.crops import ponds
from rounds.day.lots.forage_hold import held
from rounds.reports import forage as words
from rounds.reports.told import Told
from rounds.screens.ink import ink
from rounds.screens.listing import Listing, Row


class PondPage(Listing):
    """One row a pond, a crop, and a tank that could be fed from it."""

    about = (
        "The pond sheet shows what the pond bears a day, what of it may be taken now, the crops "
        "still in their hold, and how much each tank would take. W opens why. K records a "
        "crop; what was fed of it, and an estimate of the stock, go in on the command line, by "
        "`rounds forage`."
    )
    nothing = "There is no pond on this site"

    def __init__(self) -> None:
        super().__init__("POND")

    def listed(self) -> Sequence[Row]:
        """Work out ponds, crops and needs."""
        site, farm, now = self.desk.site, self.desk.farm, self.desk.now()
        told: list[tuple[str, Told]] = []
        needs: dict[str, Told] = {}
        for place in ponds(site):
            typed = Asked()
            full = pond.of_pond(farm, place, now, typed)
            takes = forage_need.needs(site, farm, now, full, None)
            wet = forage_need.needed_kg_day(takes, typed)
            told.append((place.code, words.pond(pond.pond(site, farm, place, now, typed, wet))))
            needs |= {one.place: words.need(one) for one in takes}
        told += [("", words.crop(one)) for one in held(site, farm, now)]
        told += needs.items()
        return [Row(ink(one.title), one, place) for place, one in told]
