"""The live food sheet: larval tanks with number, food and age; cultures, cysts, hours to use."""

from __future__ import annotations

from collections.abc import Sequence

from rounds.day.larvae import cultures, hatching
from rounds.day.larvae.live_food import live_food
from rounds.reports import live_food as words
from rounds.reports.told import Told
from rounds.screens.ink import ink
from rounds.screens.listing import Listing, Row


class LiveFoodPage(Listing):
    """One row a larval tank, a counted culture, an upkeep, a tin of cysts, a food with its hour."""

    about = (
        "The live food sheet shows larval tanks with their food and age, then the cultures counted "
        "these days, their back-up, the tins of cysts and until when enriched food is good. Under "
        "it stands what to pour in, what to measure and what to mind; W opens why. K records "
        "what was given, taken out or hatched; a hatch for an hour is planned on the command line, "
        "by `rounds larvae`."
    )
    nothing = words.NOTHING

    def __init__(self) -> None:
        super().__init__("LIVE FOOD")

    def listed(self) -> Sequence[Row]:
        """Work out every larval tank, culture and tin."""
        site, farm, now = self.desk.site, self.desk.farm, self.desk.now()
        sheets, kept = live_food(site, farm, now)
        told: list[tuple[str, Told]] = [(one.place, words.larval(one)) for one in sheets]
        told += [(one.place, words.culture(one)) for one in kept]
        upkeep = cultures.upkeep(site, farm, now)
        food: list[words.Food] = [upkeep] if upkeep else []
        food += [*hatching.cyst_lots(farm, now), *hatching.expiries(site, farm, now)]
        told += [("", words.food(site, one, now)) for one in food]
        return [Row(ink(one.title), one, place) for place, one in told]
