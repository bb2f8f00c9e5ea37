"""The meals of a day: split once, cut when the present allows less, and given with a reason."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Final

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import FedAt
from rounds.day.slips import MUCH, Unsure, amount_slip
from rounds.day.when import local_day
from rounds.fish.meals import split_meals
from rounds.reason import lines
from rounds.records.entry import Correction, Fed
from rounds.site.model import Site, Species
from rounds.site.sun import sun
from rounds.text import plain
from rounds.units import convert

if TYPE_CHECKING:
    from rounds.day.feeding.rations import Ration

FINE_BELOW_G: Final = 10.0
"""Meals smaller than this are weighed to a tenth of a gram, others to the gram."""
LONGEST_MEAL_MIN: Final = 180
"""Feed that lay longer was not eaten as a meal (common practice)."""
LEAST_WAIT: Final = timedelta(minutes=45)
"""Fish are not fed again sooner, however many meals a day (common practice)."""

OTHER_WHYS: Final = ("fish left food", "fish still hungry", "not enough feed here", "fish handled")
"""Reasons, one digit away, for another amount than advised."""
MEANT_WHYS: Final = ("fish are fine and hungry", "supervisor said so", "time was written late")
"""Reasons, one digit away, to feed all the same."""


class Meal(Struct, frozen=True):
    """One meal of the day: what is advised, and what was given of it."""

    number: int
    advised_g: float
    given: FedAt | None = None


def meals_a_day(species: Species, weight_g: float) -> int:
    """Return how many meals a day fish of a mean weight in g take, by their profile."""
    for upto_g, meals in species.meals:
        if weight_g <= upto_g:
            return max(1, meals)
    return max(1, species.meals[-1][1]) if species.meals else 1


def wait(site: Site, at: datetime, count: int) -> timedelta:
    """Return how long after a meal the next is too soon: half of daylight over meals a day."""
    day = sun(at.astimezone(site.timezone).date(), site.latitude, site.longitude)
    light = day.set - day.rise if day else timedelta(hours=12)
    return max(LEAST_WAIT, light / max(count, 1) / 2)


def planned(fixed_g: float, now_g: float, count: int, given: Sequence[FedAt]) -> tuple[Meal, ...]:
    """Split the day's ration, and cut the meals still to come to what the present allows.

    What was refused, or a meal left out, is never added to a later one; what was given above the
    advice, a meal given twice on two laptops too, is taken off the later ones.

    Args:
        fixed_g: The ration as the first meal fixed it, g.
        now_g: The ration as it would be now, g.
        count: Meals a day, 1 or more.
        given: What was fed today, oldest first.

    Returns:
        Every meal of the day; before the first one they add up to the ration exactly.
    """
    fixed, now = _split(fixed_g, count), _split(min(fixed_g, now_g), count)
    of = {fed.meal: fed for fed in given}
    last = min(max(of, default=0), count)

    def advised(fed: FedAt) -> float:
        plan = fixed[fed.meal - 1] if 1 <= fed.meal <= count else 0.0
        return plan if fed.advised_g is None else fed.advised_g

    done = [
        Meal(n, advised(of[n]) if n in of else fixed[n - 1], of.get(n)) for n in range(1, last + 1)
    ]
    step = _step(fixed_g, count)
    most = fixed_g
    first = next((fed for fed in given if fed.amount_g > 0 and advised(fed) > 0), None)
    if first is not None and 1 <= first.meal <= count and advised(first) < fixed[first.meal - 1]:
        most = max(0.0, advised(first) - step)  # more fish are on record now than it was fixed for
    coming = [min(a, b, most) for a, b in zip(fixed[last:], now[last:], strict=True)]
    over_g = sum(fed.amount_g for fed in given) - sum(advised(fed) for fed in of.values())
    if over_g > 0 and coming:
        left_g = round(max(0.0, sum(coming) - over_g), 3)
        coming = list(split_meals(left_g, meals=len(coming), step_g=step))
    return (*done, *(Meal(last + n, grams) for n, grams in enumerate(coming, 1)))


def _split(total_g: float, count: int) -> tuple[float, ...]:
    return split_meals(round(total_g, 3), meals=count, step_g=_step(total_g, count))


def _step(total_g: float, count: int) -> float:
    return 0.1 if total_g / count < FINE_BELOW_G else 1.0


def fed(
    ration: Ration,
    meal: int,
    amount: Decimal | None = None,
    why: str = "",
    left: Decimal | float | None = None,
    minutes: Decimal | None = None,
    confirmed: bool = False,
) -> Fed:
    """Draft the entry of a meal given, with what was advised and its reasons as shown.

    Args:
        ration: The ration as it was shown.
        meal: Number of the meal, from 1.
        amount: Given, g; as advised when left out.
        why: The person's reason for another amount, or for feeding against the advice.
        left: What was not eaten, g, if somebody looked.
        minutes: From offering until nothing was left, if somebody timed it.
        confirmed: The person was told of NO FEED, of a meal given already or just before, or of
            an amount that looks like a slip, and means it.

    Returns:
        The draft.

    Raises:
        Unsure: One sentence saying what looks like a slip; `confirmed=True` keeps it.
        ValueError: One sentence saying what is missing: a reason, an amount.
    """
    if meal < 1:
        raise ValueError(f"Meal {meal} does not exist: meals are numbered from 1.")
    shown = next((m for m in ration.meals if m.number == meal), Meal(meal, 0.0))
    advised = Decimal(f"{shown.advised_g if ration.ready else 0.0:.10g}")
    given = advised if amount is None else amount
    if not given.is_finite() or given < 0:
        raise ValueError(f"{given} g is not an amount of feed.")
    if amount is None and advised <= 0:
        says = ration.held_back or "no meal is left"
        raise ValueError(f"{ration.place}: {says}: nothing to give as advised, give an amount.")
    slip = _slip(ration, shown, float(given))
    if given > 0 and not ration.ready and not (confirmed and why.strip()):
        name = "is NO FEED" if ration.no_feed else "is not to be fed yet"
        raise Unsure(
            f"{ration.place} {name} ({ration.held_back}): see to that first, or confirm and "
            f"say why. {slip}".rstrip()
        )
    if shown.given is not None and not confirmed:
        raise Unsure(
            f"Meal {meal} of {ration.place} is given already, {shown.given.amount_g:g} g by "
            f"{shown.given.by or 'somebody'}: give the next, or confirm."
        )
    doubts = [*filter(None, (slip, ration.too_soon, ration.doubt))]
    if given > 0 and not confirmed and doubts:
        raise Unsure(" ".join(doubts))
    if given != advised and not why.strip():
        raise ValueError(f"{plain(given)} g is not the advised {plain(advised)} g: say why.")
    if given > 0 and not ration.product:
        raise ValueError(
            f"No feed is set for {ration.place}: the supervisor puts it into site.toml."
        )
    seen = _appetite(given, "g", None if left is None else Decimal(str(left)), minutes)
    return Fed(
        place=ration.place,
        lot=ration.lots[0] if len(ration.lots) == 1 else None,
        product=ration.product,
        amount=plain(given),
        unit="g",
        meal=meal,
        left=seen["left"],
        minutes=seen["minutes"],
        advised=plain(advised),
        reasons=lines(ration.reasons, ration.display),
        why=why.strip(),
        feed_lot=ration.feed_lot if given > 0 else "",
    )


def last_today(farm: Farm, place: str, now: datetime) -> FedAt | None:
    """Return the meal of this site-local day that was given last at a place."""
    given = farm.fed_on(place, local_day(now, farm.site.timezone).isoformat())
    return given[-1] if given else None


def last_meal(farm: Farm, place: str, now: datetime) -> FedAt | None:
    """Return the meal of the last 24 hours that was given last: the next morning sees its rest."""
    given = [fed for fed in farm.fed(place, now - timedelta(hours=24)) if fed.at <= now]
    return given[-1] if given else None


def next_number(farm: Farm, ration: Ration, now: datetime) -> int:
    """Return the number of the meal to give next: as planned, else one after the last today."""
    if ration.next_meal is not None:
        return ration.next_meal.number
    day = local_day(now, farm.site.timezone).isoformat()
    return max((one.meal for one in farm.fed_on(ration.place, day)), default=0) + 1


def looked(
    farm: Farm, entry_id: str, left: Decimal | None = None, minutes: Decimal | None = None
) -> Correction:
    """Draft the correction that puts into a meal what somebody saw of it afterwards.

    Args:
        farm: The farm.
        entry_id: The meal, `FedAt.id`.
        left: What was not eaten, g.
        minutes: From offering until nothing was left.

    Returns:
        The draft; it has seen every correction of the meal that is on record.

    Raises:
        ValueError: No such meal, nothing seen, or more left than was given.
    """
    meal = farm.entry(entry_id)
    if not isinstance(meal, Fed):
        raise ValueError("There is no such meal on record.")
    if left is None and minutes is None:
        raise ValueError("Say what was left, or how many minutes it took.")
    seen = _appetite(Decimal(meal.amount), meal.unit, left, minutes)
    return Correction(
        of=entry_id,
        after=list(farm.corrections_of(entry_id)),
        set=dict(seen),
        why="looked after the meal",
        day=meal.day,
    )


def _appetite(
    given: Decimal, unit: str, left_g: Decimal | None, minutes: Decimal | None
) -> dict[str, str]:
    """Return what was left, in the meal's own unit, and the minutes, as an entry keeps them."""
    if minutes is not None and not 0 < minutes <= LONGEST_MEAL_MIN:
        raise ValueError(f"{plain(minutes)} min is not above 0 and at most {LONGEST_MEAL_MIN} min.")
    if left_g is None:
        return {"left": "" if minutes is None else "0", "minutes": _plain(minutes)}
    left = left_g if unit == "g" else Decimal(f"{convert(float(left_g), 'g', unit):.10g}")
    if not 0 <= left <= given:
        said = f"{plain(left)} {unit} left is not between 0 and the {plain(given)} {unit} given."
        raise ValueError(said)
    if minutes is not None and left:
        raise ValueError("Minutes are until nothing was left: leave them out where some was.")
    return {"left": plain(left), "minutes": _plain(minutes)}


def _plain(number: Decimal | None) -> str:
    return "" if number is None else plain(number)


def _slip(ration: Ration, meal: Meal, given_g: float) -> str:
    if not ration.meals or (not ration.ready and meal.advised_g <= 0):
        return ""
    slip = amount_slip(given_g, meal.advised_g, ration.left_g, "g", "meal", "day's ration")
    if slip or ration.ready or given_g <= MUCH * meal.advised_g:
        return slip
    one_g = meal.advised_g
    return f"{given_g:g} g is {given_g / one_g:.2g} meals of {one_g:g} g in one: is it meant?"
