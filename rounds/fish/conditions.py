"""What takes a ration down: one multiplier a condition, and the smallest governs.

Limits come from the site; the defaults are the site-wide ones. Beyond the act limit a multiplier
is 0; between watch and act it falls straight from 1 to 0.5, so ration and verdict agree.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from msgspec import Struct

from rounds.reason import Reason, Value
from rounds.units import Amount
from rounds.water.ranges import within

_PRACTICE: Final = "common practice"
REFUSED_PART: Final = 10  # one part in so many left is a refused meal
_APPETITE: Final = {1: 0.75, 2: 0.5}  # refusals in a row; three or more stop
CLEARED_MINUTES: Final = 2.0  # a meal gone sooner was a small one
CLEARED_DAYS: Final = 3
_RAISE, _MOST_RAISE = 0.05, 0.10
_AFTER_HANDLING: Final = {1: 0.5, 2: 0.75}  # days after


class Multiplier(Struct, frozen=True):
    """A part of the ration left by one condition, 0 to 1 (`eager` alone above it), and why."""

    name: str
    factor: float
    reason: Reason


def between(value: float, watch: float, act: float) -> float:
    """Return 1 up to the watch limit, 1 to 0.5 from watch to act, 0 beyond act.

    Args:
        value: The reading.
        watch: Limit of the target band; above `act` where falling is bad, below where rising is.
        act: Limit of the act band; a reading on it is not yet beyond it.

    Returns:
        0 to 1.

    Raises:
        ValueError: Not finite, or both limits are one.

    Source: common practice.
    """
    for name, number in (("reading", value), ("watch limit", watch), ("act limit", act)):
        within(name, number, -1e9, 1e9)
    if watch == act:
        raise ValueError(f"watch limit {watch:g} and act limit are the same: they must differ")
    share = (value - watch) / (act - watch)
    if share > 1:
        return 0.0
    return 1.0 - 0.5 * max(0.0, share)


def oxygen(
    oxygen_percent: float,
    oxygen_mg_l: float,
    watch_percent: float = 75.0,
    act_percent: float = 60.0,
    watch_mg_l: float = 5.0,
    act_mg_l: float = 4.0,
) -> Multiplier:
    """Return the multiplier of dissolved oxygen: the smaller by percent and by mg/L.

    Args:
        oxygen_percent: Of saturation, 0 to 400 %.
        oxygen_mg_l: 0 to 40 mg/L.
        watch_percent: Full ration from here up, %.
        act_percent: No feed below, %.
        watch_mg_l: Full ration from here up, mg/L.
        act_mg_l: No feed below, mg/L.

    Returns:
        The multiplier.

    Raises:
        ValueError: An argument is out of range.

    Source: common practice; that intake falls with oxygen: Pichavant et al. 2001, J. Fish Biol.
    59:875-883.
    """
    within("oxygen", oxygen_percent, 0, 400, "%")
    within("oxygen", oxygen_mg_l, 0, 40, "mg/L")
    by_percent = between(oxygen_percent, watch_percent, act_percent)
    by_mg_l = between(oxygen_mg_l, watch_mg_l, act_mg_l)
    if by_percent <= by_mg_l:
        found, limits, unit = oxygen_percent, (watch_percent, act_percent), "%"
    else:
        found, limits, unit = oxygen_mg_l, (watch_mg_l, act_mg_l), "mg/L"
    return _banded("oxygen", found, limits, unit)


def ammonia(nh3_n_mg_l: float, watch_mg_l: float = 0.02, act_mg_l: float = 0.05) -> Multiplier:
    """Return the multiplier of un-ionised ammonia (the cautious value); half limits for larvae.

    Args:
        nh3_n_mg_l: 0 to 20 mg N/L.
        watch_mg_l: Full ration up to here, mg N/L.
        act_mg_l: No feed above, mg N/L.

    Returns:
        The multiplier.

    Raises:
        ValueError: An argument is out of range.

    Source: common practice.
    """
    within("ammonia NH3-N", nh3_n_mg_l, 0, 20, "mg/L")
    return _banded("ammonia", nh3_n_mg_l, (watch_mg_l, act_mg_l), "mg/L")


def nitrite(nitrite_n_mg_l: float, watch_mg_l: float = 1.0, act_mg_l: float = 10.0) -> Multiplier:
    """Return the multiplier of nitrite.

    Args:
        nitrite_n_mg_l: 0 to 1000 mg N/L.
        watch_mg_l: Full ration up to here, mg N/L.
        act_mg_l: No feed above, mg N/L.

    Returns:
        The multiplier.

    Raises:
        ValueError: An argument is out of range.

    Source: common practice.
    """
    within("nitrite N", nitrite_n_mg_l, 0, 1000, "mg/L")
    return _banded("nitrite", nitrite_n_mg_l, (watch_mg_l, act_mg_l), "mg/L")


def temperature(
    temperature_c: float,
    feeding_limit_c: float,
    band_high_c: float,
    upper_limit_c: float,
    fall_24h_c: float = 0.0,
) -> Multiplier:
    """Return the multiplier of temperature; the table already falls with cold inside the band.

    Args:
        temperature_c: Mean of the last days' minima and maxima, degC, -2 to 40.
        feeding_limit_c: Below it the species is not fed, degC.
        band_high_c: Warm end of the optimum band, degC.
        upper_limit_c: Where the species dies of heat, degC, above `band_high_c`.
        fall_24h_c: How far the water fell in the last 24 h, K, 0 to 30.

    Returns:
        0 below the feeding limit and from 2 degC under the upper limit; 0.75 within 2 degC above
        the band, 0.5 within 4 and 0 beyond; 0.5 for a day after a fall of more than 3 degC.

    Raises:
        ValueError: An argument is out of range, or the limits do not rise.

    Source: common practice.
    """
    within("temperature", temperature_c, -2, 40, "degC")
    within("fall in 24 h", fall_24h_c, 0, 30, "degC")
    within("end of the optimum band", band_high_c, feeding_limit_c, upper_limit_c, "degC")
    above = round(temperature_c - band_high_c, 6)
    if temperature_c < feeding_limit_c:
        factor, says = 0.0, "{found:.1f} is below {limit:.1f}, where this species is fed"
    elif temperature_c >= upper_limit_c - 2:
        factor, says = 0.0, "{found:.1f} is close to the upper limit {upper:.1f}"
    elif above > 4:
        factor, says = 0.0, "{found:.1f} is far above the best band"
    elif above > 2 or fall_24h_c > 3:
        factor = 0.5
        says = "{found:.1f} is above the best band" if above > 2 else "fell fast in a day"
    elif above > 0:
        factor, says = 0.75, "{found:.1f} is above the best band"
    else:
        factor, says = 1.0, "{found:.1f} does not reduce the ration"
    values = {
        "found": Amount(temperature_c, "degC"),
        "limit": Amount(feeding_limit_c, "degC"),
        "upper": Amount(upper_limit_c, "degC"),
    }
    return _multiplier("temperature", factor, Reason(says, values, _PRACTICE))


def appetite(given_g: float, left_g: float, refusals_in_row: int) -> Multiplier:
    """Return the multiplier of the next meal from what was left of the last one.

    Refused feed is never added to a later meal.

    Args:
        given_g: Offered at the last meal, g, above 0.
        left_g: Left of it, g, 0 to `given_g`.
        refusals_in_row: Meals in a row, the last included, with a tenth or more left.

    Returns:
        1 below a tenth left; else 0.75, 0.5 and 0 at one, two and three refusals.

    Raises:
        ValueError: An argument is out of range.

    Source: common practice.
    """
    within("feed given", given_g, 1e-6, 1e8, "g")
    within("feed left", left_g, 0, given_g, "g")
    within("refusals", refusals_in_row, 0, 1000)
    refusals = max(1, refusals_in_row) if left_g * REFUSED_PART >= given_g else 0
    factor = 1.0 if refusals == 0 else _APPETITE.get(refusals, 0.0)
    says = {
        1.0: "{share:.0f} % left at the last meal",
        0.75: "{share:.0f} % left at the last meal",
        0.5: "{share:.0f} % left, two meals in a row: look at the fish",
        0.0: "{share:.0f} % left, {refusals} meals in a row: stop feeding, call the supervisor",
    }[factor]
    reason = Reason(says, {"share": 100 * left_g / given_g, "refusals": refusals}, _PRACTICE)
    return _multiplier("appetite", factor, reason)


def eager(days_in_row: int) -> Multiplier:
    """Return the raise of a ration whose every meal was cleared within 2 minutes, days in a row.

    It is for good water only, and the caller holds it under the largest of the feed table.

    Args:
        days_in_row: Whole days up to yesterday, 0 or more.

    Returns:
        1 below three days; from the third 5 % more a day, at most 10 % above the table: 1 to 1.10.

    Raises:
        ValueError: A negative number of days.

    Source: common practice.
    """
    within("days in a row", days_in_row, 0, 100_000)
    more = max(0.0, _RAISE * (days_in_row - CLEARED_DAYS + 1))
    factor = 1.0 + min(_MOST_RAISE, more)
    says = "every meal was gone within {minutes:g} minutes for {days} days: +{percent:.0f} %"
    values: dict[str, Value] = {"minutes": CLEARED_MINUTES, "days": days_in_row}
    values["percent"] = 100 * (factor - 1)
    return Multiplier("appetite", factor, Reason(says, values, _PRACTICE))


def handling(days_after: int) -> Multiplier:
    """Return the multiplier around a grading, move or treatment.

    Args:
        days_after: Days since it, -1 the day before, 0 the day itself.

    Returns:
        0 the day before and on the day, 0.5 and 0.75 on the two days after, else 1.

    Source: common practice.
    """
    factor = 0.0 if days_after in (-1, 0) else _AFTER_HANDLING.get(days_after, 1.0)
    when = {-1: "is tomorrow", 0: "is today", 1: "was yesterday"}.get(
        days_after, f"was {days_after} days ago" if days_after > 0 else "is days away"
    )
    return _multiplier("handling", factor, Reason("handling {when}", {"when": when}, _PRACTICE))


def sampling() -> Multiplier:
    """Return the multiplier of the meals left on a day some fish were netted and weighed.

    Source: common practice.
    """
    return _multiplier("weighing", 0.5, Reason("fish were netted and weighed today", {}, _PRACTICE))


def mortality(alarm: bool) -> Multiplier:
    """Return the multiplier of deaths: half while more die than this lot's own days explain.

    Source: common practice.
    """
    says = "more deaths than usual: half feed until it is explained" if alarm else "deaths as usual"
    return _multiplier("deaths", 0.5 if alarm else 1.0, Reason(says, {}, _PRACTICE))


def smallest(multipliers: Sequence[Multiplier]) -> Multiplier:
    """Return the multiplier that governs: the smallest, the first of equals; never a product."""
    full = Multiplier("conditions", 1.0, Reason("nothing reduces the ration"))
    return min((*multipliers, full), key=lambda multiplier: multiplier.factor)


def _banded(name: str, found: float, limits: tuple[float, float], unit: str) -> Multiplier:
    watch, act = limits
    factor = between(found, watch, act)
    side = "below" if act < watch else "above"
    says = (
        "{name} {found:.3g}, in its target band"
        if factor == 1
        else "{name} {found:.3g}, {side} {limit:.3g}"
    )
    values: dict[str, Value] = {
        "name": name,
        "found": Amount(found, unit),
        "side": side,
        "limit": Amount(watch if factor else act, unit),
    }
    return _multiplier(name, factor, Reason(says, values, _PRACTICE))


def _multiplier(name: str, factor: float, reason: Reason) -> Multiplier:
    tail = ": no feed" if factor == 0 else f": x{factor:.2f}" if factor < 1 else ""
    joined = reason.says if "stop feeding" in reason.says else reason.says + tail
    return Multiplier(name, factor, Reason(joined, reason.values, reason.source))
