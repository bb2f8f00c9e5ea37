"""What the tests of larvae and their food share: a hatchery, a batch of a known age."""

from __future__ import annotations

from datetime import timedelta

from msgspec.structs import replace
from small_farm import FISH, NOW, Days, make_site, with_place

from rounds.day.larvae import tanks as larvae
from rounds.day.larvae.tanks import Asked
from rounds.records import entry as e
from rounds.site.model import Place, Screen, Site, SwimBladder, Weaning

FOODS = (Weaning("rotifers", 3, 11, "x"), Weaning("dry feed", 21, 35, "y"))
SCREENS = (Screen(250, 0, 10, "common practice"), Screen(500, 11, 40, "common practice"))


def hatchery(**species: object) -> Site:
    """A larval tank of 500 L, two rotifer cultures and a hatcher of 60 L."""
    site = with_place(make_site(), "L1", volume_m3=0.5)
    named = {"weaning": FOODS, "screens": SCREENS, "swim_bladder": SwimBladder(3, 8, "z")}
    fish = replace(FISH, **{**named, **species})  # type: ignore[arg-type]
    cultured = {
        code: Place(code, code, "culture", 0, volume_m3=0.06) for code in ("R1", "R2", "B1")
    }
    return replace(site, places={**cultured, **site.places}, species={"fish": fish})


def lived(day: int, **keys: object) -> Days:
    """A tank of 7000 larvae that hatched so many days ago, stocked the day after."""
    days = Days(hatchery(**keys))
    hatched = (NOW - timedelta(days=day)).date().isoformat()
    days.stock("L1", count=7000, weight="0.0004", lot="LV", hours=-24 * day + 24, hatched=hatched)
    return days


def sheet(days: Days, **asked: object) -> larvae.Sheet:
    place = days.site.places["L1"]
    return larvae.sheet(days.site, days.farm, place, NOW, Asked(**asked))  # type: ignore[arg-type]


def looked(days: Days, total: int, guts: int, bladders: int, hours: float = -1) -> None:
    for step, value in zip(("larvae_looked", "guts_full", "bladders_full"),
                           (total, guts, bladders), strict=True):  # fmt: skip
        days.write(e.Answer, hours, place="L1", step=step, value=str(value), walk="w")
