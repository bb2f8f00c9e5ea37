"""Today's ration of every stocked place: biomass by table rate, what holds it back, the meals.

The day's ration is fixed at the first meal; later meals are only reduced. What is missing or too
old raises nothing above what was given yesterday. Nothing is fed on an act of oxygen, ammonia or
nitrite until it has been read again.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from msgspec import Struct
from msgspec.structs import replace

from rounds.day.feeding.appetite import PastMeals
from rounds.day.feeding.conditions import conditions, food_left
from rounds.day.feeding.feed_account import dry_g, fed_on
from rounds.day.feeding.meals import Meal, fed, meals_a_day, planned, wait
from rounds.day.feeding.opinions import Opinion
from rounds.day.feeding.ration_plan import plan_of
from rounds.day.feeding.ration_words import cautions, held_back, meal_reasons
from rounds.day.fold.farm import Farm
from rounds.day.fold.pellets import PELLET_DRY_MATTER
from rounds.day.fold.state import FedAt, Stock
from rounds.day.lots.forage_hold import no_forage, to_feed
from rounds.day.lots.raw_eating import would_lose
from rounds.day.when import clock, local_day
from rounds.reason import Reason, Reasons
from rounds.site.model import Place, Product, Site, Species

__all__ = ["Meal", "Ration", "fed", "today"]


class Ration(Struct, frozen=True, kw_only=True):
    """A place's ration of the day. `total_g` is the whole day's as its first meal fixed it.

    `given_g` is what was given today, `left_g` what the meals still to come add up to now.
    `factor` is the smallest multiplier now and `factor_name` what it comes from. `no_feed` holds
    until the water is read again; `held_back` says in words why less than the table's is shown.
    """

    place: str
    lots: tuple[str, ...]
    count: int
    mean_weight_g: float
    biomass_kg: float
    temperature_c: float | None = None
    rate_percent: float | None = None
    factor: float = 1.0
    factor_name: str = ""
    product: str = ""
    total_g: float = 0.0
    meals: tuple[Meal, ...] = ()
    given_g: float
    next_meal_g: float = 0.0
    ready: bool = False
    """A meal may be given now: oxygen was read before it and nothing stops it."""
    no_feed: bool = False
    held_back: str = ""
    missing: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    reasons: Reasons = ()
    display: str = "metric"
    left_g: float = 0.0
    next_at: datetime | None = None
    """Not before: while the last meal was given too short a time ago."""
    too_soon: str = ""
    """The same as a sentence."""
    doubt: str = ""
    """What is asked about before forage is fed: its hold, and lots that never ate any."""
    feed_lot: str = ""
    """Crop that forage is fed from, where the tank's feed is forage."""
    opinions: tuple[Opinion, ...] = ()
    governs: str = ""
    """Name of the opinion that governs; empty where no grams are worked out."""
    governs_why: str = ""
    choose: bool = False
    """The opinions lie more than a quarter apart: a person chooses; the smallest stands."""
    apart: bool = False
    """The opinions lie more than a quarter apart: a person may choose, or has."""
    unverified: str = ""
    """Source of the feed table, where that says it is unverified."""
    dry_matter_g: float = 0.0
    """Of the ration."""
    given_dry_matter_g: float = 0.0
    """Of all that was given today, wet feed by its own dry matter."""

    @property
    def next_meal(self) -> Meal | None:
        """The meal to give next; None when none is left today."""
        last = max((meal.number for meal in self.meals if meal.given), default=0)
        return next((meal for meal in self.meals if meal.number > last), None)


def today(site: Site, farm: Farm, now: datetime) -> tuple[Ration, ...]:
    """Work out today's ration of every place with fish, in walking order.

    Args:
        site: The site: species, tables, feeds, limits.
        farm: The farm.
        now: The present.

    Returns:
        One ration a stocked place. Where it cannot be worked out it says what to measure.
    """
    return tuple(
        _ration(site, farm, place, stocks, now)
        for place in site.places.values()
        if (stocks := farm.stocks.get(place.code))
    )


def _ration(
    site: Site, farm: Farm, place: Place, stocks: tuple[Stock, ...], now: datetime
) -> Ration:
    given = [meal for meal in fed_on(site, farm, place.code, _day(site, now)) if meal.at <= now]
    eaten = farm.fed_on(place.code, _day(site, now))
    count = sum(stock.count for stock in stocks)
    biomass_kg = sum(stock.biomass_kg for stock in stocks)
    empty = Ration(
        place=place.code,
        lots=tuple(stock.lot for stock in stocks),
        count=count,
        mean_weight_g=biomass_kg * 1000 / count if count else 0.0,
        biomass_kg=biomass_kg,
        given_g=sum(meal.amount_g for meal in eaten if meal.at <= now),
        given_dry_matter_g=dry_g(site, [m for m in eaten if m.at <= now]),
        display=site.display_units,
    )
    if place.stage == "larval":
        return _larvae(site, farm, place, empty, now)
    species, product = site.species_of(place), site.products.get(place.feed or "")
    if species is None or product is None or product.kind != "feed":
        return _no_table(site, farm, place, empty, species, product, now)
    stocks = _before_meals(stocks, given, species)
    past = PastMeals(site, farm, place)
    plan = plan_of(past, stocks, species, now, over=False)
    first = next((meal for meal in given if meal.amount_g > 0), None)
    fixed_g = plan.total_g
    if first is not None:
        before = first.at - timedelta(microseconds=1)
        fixed_g = plan_of(past, stocks, species, before, over=True).total_g
    morning_g = sum(stock.biomass_kg for stock in stocks) * 1000 / count
    count_of_meals = meals_a_day(species, morning_g)
    meals = planned(fixed_g, plan.total_g, count_of_meals, given)
    ration = replace(
        empty,
        temperature_c=plan.temperature_c,
        rate_percent=plan.rate_percent,
        factor=plan.held.smallest.factor,
        factor_name=plan.held.smallest.name if plan.held.smallest.factor < 1 else "",
        product=product.code,
        total_g=round(
            sum(meal.advised_g for meal in planned(fixed_g, fixed_g, count_of_meals, ())), 3
        ),
        meals=meals,
        ready=plan.held.oxygen_read and not plan.held.stop,
        no_feed=bool(plan.held.stop),
        held_back=held_back(plan.held, "not above yesterday's" if plan.capped else ""),
        missing=tuple(dict.fromkeys(plan.missing)),
        cautions=(
            *cautions(farm, place, stocks, product, empty.mean_weight_g, species.table),
            *plan.cautions,
        ),
        reasons=(*plan.reasons, *meal_reasons(site, fixed_g, meals, first)),
        opinions=plan.opinions.all if plan.opinions else (),
        governs=plan.opinions.governs if plan.opinions else "",
        governs_why=plan.opinions.why if plan.opinions else "",
        doubt=plan.held.doubt,
        choose=plan.opinions.choose if plan.opinions else False,
        apart=plan.opinions.apart if plan.opinions else False,
    )
    dry = product.dry_matter or PELLET_DRY_MATTER
    unverified = "" if species.table.verified else species.table.source
    ration = replace(ration, dry_matter_g=round(ration.total_g * dry, 3), unverified=unverified)
    following = ration.next_meal
    if following is None:
        return ration
    left_g = round(sum(m.advised_g for m in meals if m.number >= following.number), 3)
    ration = replace(
        ration, left_g=left_g, next_meal_g=following.advised_g if ration.ready else 0.0
    )
    return _waiting(site, ration, [meal for meal in given if meal.amount_g > 0], now)


def _waiting(site: Site, ration: Ration, given: list[FedAt], now: datetime) -> Ration:
    """Return the ration with the time before which the next meal comes too soon."""
    last = max((meal.at for meal in given), default=None)
    if last is None or (due := last + wait(site, now, len(ration.meals))) <= now:
        return ration
    at, before = clock(due, site.timezone), clock(last, site.timezone)
    said = f"{ration.place} was fed at {before}: next not before {at}."
    return replace(ration, next_at=due, too_soon=said, cautions=(said, *ration.cautions))


def _larvae(site: Site, farm: Farm, place: Place, empty: Ration, now: datetime) -> Ration:
    held = conditions(site, farm, place, now)
    return replace(
        empty,
        product=place.feed or "",
        ready=held.oxygen_read and not held.stop,
        no_feed=bool(held.stop),
        held_back=held_back(held, "live food, by count"),
        cautions=(
            *held.cautions,
            *food_left(site, farm, place, now),
            "Top up from the culture to what the larvae eat until the next visit; "
            "write down how much went in: K, live food given to larvae.",
        ),
        reasons=(
            *(reason for stock in farm.stocks[place.code] for reason in stock.reasons),
            Reason("Larvae eat live food by count: no grams are worked out from body weight"),
            *held.reasons,
        ),
    )


def _no_table(
    site: Site,
    farm: Farm,
    place: Place,
    empty: Ration,
    species: Species | None,
    product: Product | None,
    now: datetime,
) -> Ration:
    """A place without species, feed or a dry feed: no grams, and what to put into the site."""
    held = conditions(site, farm, place, now)
    if product is not None and product.kind != "feed":
        why = f"{product.name} is not a dry feed: a table of dry percent cannot be used for it"
        missing: tuple[str, ...] = ()
    else:
        lacks = ["species"] if species is None else []
        lacks += ["feed"] if product is None else []
        why = f"no {' and no '.join(lacks)} set for {place.code}"
        missing = () if place.kind == "pond" else (f"{why}: put it into site.toml",)
    if product is not None and product.kind == "forage":
        empty = _forage(site, farm, place, empty, product, now)
    return replace(
        empty,
        product=product.code if product else "",
        ready=held.oxygen_read and not held.stop,
        no_feed=bool(held.stop),
        held_back=held_back(held, why),
        missing=missing,
        reasons=(Reason("{why}", {"why": why}), *held.reasons),
    )


def _forage(
    site: Site, farm: Farm, place: Place, empty: Ration, product: Product, now: datetime
) -> Ration:
    """Put in which crop a tank on forage is fed from, and what is asked about before."""
    asked = (no_forage(site, farm, product, now), *would_lose(farm.stocks[place.code]))
    crop, says = to_feed(site, farm, now), [*filter(None, asked), product.caution]
    if crop is not None:
        says.append(f"Take it from {crop.lot} in {crop.place}, {crop.mass_kg:.2f} kg left")
    return replace(
        empty,
        cautions=tuple(filter(None, says)),
        doubt=" ".join(filter(None, asked)),
        feed_lot=crop.lot if crop is not None else "",
    )


def _before_meals(
    stocks: tuple[Stock, ...], given: list[FedAt], species: Species
) -> tuple[Stock, ...]:
    """Return the fish without what today's meals made them gain: a ration does not feed itself."""
    biomass_kg = sum(stock.biomass_kg for stock in stocks)
    eaten_kg = sum(max(0.0, f.amount_g - (f.left_g or 0.0)) for f in given) / 1000
    gained_kg = eaten_kg / species.fcr
    weighed = any(stock.weight_at >= given[0].at for stock in stocks) if given else False
    if weighed or not 0 < gained_kg < biomass_kg:
        return stocks
    share = 1 - gained_kg / biomass_kg
    return tuple(replace(stock, weight_g=stock.weight_g * share) for stock in stocks)


def _day(site: Site, at: datetime) -> str:
    return local_day(at, site.timezone).isoformat()
