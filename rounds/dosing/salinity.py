"""Doses that move salinity: salt up, fresh water down, and the top-up of what evaporated."""

from __future__ import annotations

from math import ceil
from typing import Final

from msgspec.structs import replace

from rounds.dosing.advice import Advice
from rounds.dosing.exchange import (
    DAILY_SALINITY_DOWN,
    DAILY_SALINITY_UP,
    DAILY_TEMPERATURE_C,
    HOURLY_SALINITY,
    INSTRUMENT_SALINITY,
    MOST_REPLACED,
    WaterChange,
    mixed_salinity,
    mixed_temperature_c,
    partial_exchange,
)
from rounds.dosing.portions import portions
from rounds.dosing.salt import salinity_with_salt, salt_to_add_kg, water_kg
from rounds.reason import Reason
from rounds.units import Amount
from rounds.water.ranges import within
from rounds.water.seawater import density_kg_m3

FILTER_STEP_WARNED: Final = 5.0  # salinity units; common practice
# a fresh-water filter bore 10, lost 10 to 20 fold at 15, stopped at 25: public study, unnamed
FILTER_STEP_REFUSED: Final = 10.0
FILTER_CAUTION: Final = (
    "The living filter feels a step this large: TAN and nitrite may rise for days, test them daily."
)


class SaltDose(Advice, frozen=True, kw_only=True):
    """Salt for one day. Refused or not needed: no portions and 0 g.

    `first_salinity` is after the first portion, `salinity` after all of them; `left_salinity` is
    the rise that remains for another day.
    """

    total_g: float
    portions_g: tuple[float, ...]
    hours_between: float
    first_salinity: float
    salinity: float
    left_salinity: float

    @property
    def after(self) -> dict[str, float]:
        """What the meters should show after all of it."""
        return {"practical_salinity": self.salinity}


def raise_salinity(
    *,
    volume_m3: float,
    temperature_c: float,
    practical_salinity: float,
    target_salinity: float,
    salt_fraction: float,
    sea_salt: bool = True,
    stocked: bool = True,
    living_filter: bool = True,
    risen_today: float = 0.0,
    daily_rise_limit: float = DAILY_SALINITY_UP,
) -> SaltDose:
    """Return the salt to add today to a body of water.

    Args:
        volume_m3: The water as it is today, 0.01 to 100,000 m3.
        temperature_c: 0 to 40 degC.
        practical_salinity: Now, 0 to 42.
        target_salinity: Wanted, 0 to 42.
        salt_fraction: Mass fraction of the product that is dissolved sea salt, 0.3 to 1.
        sea_salt: False for plain sodium chloride.
        stocked: Fish in the loop; the daily limit then holds.
        living_filter: A filter with bacteria on this water.
        risen_today: What earlier doses of the day have already brought, 0 to 42.
        daily_rise_limit: The site's, 0.1 to 42 units a day.

    Returns:
        Grams, portions, and the salinity to expect.

    Raises:
        ValueError: Outside the range.

    Source: m = M (S2 - S1) / (1000 f - S2); limits: common practice.
    """
    within("volume", volume_m3, 0.01, 100_000, "m3")
    within("target salinity", target_salinity, 0, 42)
    within("risen today", risen_today, 0, 42)
    within("daily rise limit", daily_rise_limit, 0.1, 42)
    within("salt fraction", salt_fraction, 0.3, 1)
    mass = water_kg(volume_m3, temperature_c, practical_salinity)
    rise = target_salinity - practical_salinity
    none = SaltDose(
        total_g=0.0,
        portions_g=(),
        hours_between=0.0,
        first_salinity=practical_salinity,
        salinity=practical_salinity,
        left_salinity=max(rise, 0.0),
        expect="",
        how=(),
        measure_after=("Salinity again tomorrow.",),
        cautions=(),
        refused=(),
        reasons=(
            Reason(
                "Salinity {now:.1f}, wanted {target:.1f}, in {volume:.2f} of {t:.1f} degC: "
                "{mass:.0f}",
                {
                    "now": practical_salinity,
                    "target": target_salinity,
                    "volume": Amount(volume_m3, "m^3"),
                    "t": temperature_c,
                    "mass": Amount(mass, "kg"),
                },
                "UNESCO 44, 1983",
            ),
        ),
    )
    if rise <= 0:
        return replace(none, expect="No salt needed: salinity is at or above what is wanted.")
    today = min(rise, daily_rise_limit - risen_today) if stocked else rise
    if today <= 0:
        return replace(none, expect="No more today: the day's rise has been given.")
    if living_filter and today + risen_today > FILTER_STEP_REFUSED:
        return replace(
            none,
            refused=(
                f"A step of {today + risen_today:.0f} in a day would stop the living filter: at "
                f"most {FILTER_STEP_REFUSED:.0f}.",
            ),
        )
    wanted = 1000 * salt_to_add_kg(
        volume_m3, temperature_c, practical_salinity, practical_salinity + today, salt_fraction
    )
    parts = portions(wanted, max(2, ceil(today / HOURLY_SALINITY - 1e-9)))
    if not parts:
        return replace(none, expect="No salt needed: it is less than a scale shows.")
    total = sum(parts)
    after = salinity_with_salt(mass, practical_salinity, total / 1000, salt_fraction)
    cautions = []
    if target_salinity - after > 0.1:
        cautions.append(
            f"{after - practical_salinity:.1f} of {rise:.1f} units today; the rest on later days."
        )
    if living_filter and rise > FILTER_STEP_WARNED:
        cautions.append(FILTER_CAUTION)
    if not sea_salt:
        cautions.append(
            "Plain salt is not sea salt: it brings no calcium, magnesium or alkalinity, and meters "
            "read it differently."
        )
    cautions.append("If the reading does not rise as expected, stop: the volume may be wrong.")
    return replace(
        none,
        total_g=total,
        portions_g=parts,
        hours_between=1.0 if len(parts) > 1 else 0.0,
        first_salinity=salinity_with_salt(mass, practical_salinity, parts[0] / 1000, salt_fraction),
        salinity=after,
        left_salinity=max(target_salinity - after, 0.0),
        expect=f"Salinity {after:.1f} an hour after the last portion.",
        how=(
            "Gloves and goggles on. Dissolve each portion in a tub of loop water with strong air.",
            "Pour it clear, slowly, into fast flow or the sump; no grains onto fish or mats.",
        ),
        measure_after=(
            "Salinity an hour after each portion, before the next: stop and call the supervisor "
            "if it rose more than 1.",
            f"At the end expect {after:.1f}; then alkalinity and pH.",
        ),
        cautions=tuple(cautions),
        reasons=(
            *none.reasons,
            Reason(
                "Raised by {today:.1f} today with a product of which {f:.2f} is salt: {mass:.2f}, "
                "weighed as {total:.2f}",
                {
                    "today": today,
                    "f": salt_fraction,
                    "mass": Amount(wanted / 1000, "kg"),
                    "total": Amount(total / 1000, "kg"),
                },
                "m = M (S2 - S1) / (1000 f - S2)",
            ),
        ),
    )


def lower_salinity(
    *,
    volume_m3: float,
    temperature_c: float,
    practical_salinity: float,
    target_salinity: float,
    in_salinity: float,
    in_temperature_c: float,
    stocked: bool = True,
    living_filter: bool = True,
) -> WaterChange:
    """Return the drain-and-fill with fresher water that lowers salinity, level kept.

    Args:
        volume_m3: The water as it is today, 0.01 to 100,000 m3.
        temperature_c: 0 to 40 degC.
        practical_salinity: Now, 0 to 42.
        target_salinity: Wanted, above `in_salinity`, 0 to 42.
        in_salinity: Of the new water, 0 to 42.
        in_temperature_c: Of the new water, 0 to 40 degC.
        stocked: Fish in the loop; at most 5 units down a day then.
        living_filter: A filter with bacteria on this water.

    Returns:
        Litres, portions, and the water after it.

    Raises:
        ValueError: Outside the range, or a target the new water cannot bring.

    Source: salt conserved at constant volume; limits: common practice.
    """
    within("target salinity", target_salinity, 0, 42)
    fall = practical_salinity - target_salinity
    if fall > 0 and in_salinity >= target_salinity:
        raise ValueError(
            f"target salinity {target_salinity:g} is not above {in_salinity:g} of the new water: "
            "out of reach"
        )
    old = density_kg_m3(temperature_c, practical_salinity) * max(fall, 0.0)
    new = density_kg_m3(in_temperature_c, in_salinity) * (target_salinity - in_salinity)
    fraction = old / (old + new) if fall > 0 else 0.0
    if fraction > MOST_REPLACED:
        raise ValueError(
            f"target salinity {target_salinity:g} is too close to {in_salinity:g} of the new: "
            "nearly all the water would have to go"
        )
    change = partial_exchange(
        volume_m3=volume_m3,
        fraction=fraction,
        temperature_c=temperature_c,
        practical_salinity=practical_salinity,
        in_temperature_c=in_temperature_c,
        in_salinity=in_salinity,
        stocked=stocked,
    )
    if not change.portions_l:
        return replace(change, expect="No water needed: salinity is at or below what is wanted.")
    step = practical_salinity - change.salinity
    if living_filter and step > FILTER_STEP_REFUSED:
        return replace(
            change,
            volume_out_l=0.0,
            volume_in_l=0.0,
            portions_l=(),
            salinity=practical_salinity,
            temperature_c=temperature_c,
            kept_fraction=1.0,
            left_fraction=fraction,
            expect="",
            how=(),
            measure_after=(),
            cautions=(),
            refused=(f"A step of {step:.0f} in a day may stop the living filter: do it in days.",),
        )
    extra = (FILTER_CAUTION,) if living_filter and fall > FILTER_STEP_WARNED else ()
    return replace(change, cautions=(*change.cautions, *extra))


def top_up(
    *,
    full_m3: float,
    now_m3: float,
    temperature_c: float,
    practical_salinity: float,
    in_salinity: float,
    in_temperature_c: float,
    salinity_before: float | None = None,
) -> WaterChange:
    """Return the fresh water that brings a body of water back to its mark.

    Args:
        full_m3: The volume at the mark, 0.01 to 100,000 m3.
        now_m3: The volume now, 1 % of it to all of it.
        temperature_c: 0 to 40 degC.
        practical_salinity: Now, 0 to 42.
        in_salinity: Of the top-up, 0 to 42; fresh is right.
        in_temperature_c: Of the top-up, 0 to 40 degC.
        salinity_before: When it last stood at the mark; tells evaporation from a leak.

    Returns:
        Litres in, none out, and the water after it; refused where salinity would fall by more than
        5 or temperature move by more than 3 degC.

    Raises:
        ValueError: Outside the range.

    Source: salt stays, water leaves; what leaks takes its salt along; limits: common practice.
    """
    within("full volume", full_m3, 0.01, 100_000, "m3")
    within("volume now", now_m3, 0.01 * full_m3, full_m3, "m3")
    missing = full_m3 - now_m3
    parts = portions(missing * 1000, 1)
    water = water_kg(now_m3, temperature_c, practical_salinity)
    added = sum(parts) / 1000 * density_kg_m3(in_temperature_c, in_salinity)
    salinity = mixed_salinity(water, practical_salinity, added, in_salinity)
    warm = mixed_temperature_c(
        water, temperature_c, practical_salinity, added, in_temperature_c, in_salinity
    )
    cautions: list[str] = []
    reasons = [
        Reason(
            "{missing:.2f} missing of {full:.2f}; salinity {now:.1f} becomes {after:.1f}",
            {
                "missing": Amount(missing, "m^3"),
                "full": Amount(full_m3, "m^3"),
                "now": practical_salinity,
                "after": salinity,
            },
            "salt stays, water leaves",
        )
    ]
    refused = _top_up_refused(practical_salinity, salinity, temperature_c, warm)
    if refused:
        parts, salinity, warm = (), practical_salinity, temperature_c
    if parts:
        cautions.append("Test the new water for chlorine: at any colour, do not use it.")
        if in_salinity > 1:
            cautions.append("Topping up with salt water makes salinity creep up: use fresh water.")
        if abs(practical_salinity - salinity) > HOURLY_SALINITY:
            cautions.append("Salinity falls by more than 1: let it in slowly, over hours.")
    if salinity_before is not None and missing:
        within("salinity before", salinity_before, 0, 42)
        expected = salinity_before * full_m3 / now_m3
        reasons.append(
            Reason(
                "Had it all evaporated, salinity {before:.1f} would have become {expected:.1f}",
                {"before": salinity_before, "expected": expected},
                "salt is conserved",
            )
        )
        if expected - practical_salinity > INSTRUMENT_SALINITY:
            cautions.insert(
                0,
                f"Salinity rose too little ({practical_salinity:.1f}, not {expected:.1f}) for so "
                "much evaporation: water left with its salt. Look for a leak or an overflow.",
            )
    return WaterChange(
        volume_out_l=0.0,
        volume_in_l=sum(parts),
        portions_l=parts,
        hours_between=0.0,
        salinity=salinity,
        temperature_c=warm,
        kept_fraction=1.0,
        left_fraction=0.0,
        expect=""
        if refused
        else f"Salinity {salinity:.1f} after it."
        if parts
        else "No water needed.",
        how=("Let it in slowly at the sump, with the pumps on, and close the valve yourself.",)
        if parts
        else (),
        measure_after=(
            f"Salinity after an hour: expect {salinity:.1f}; if it is more than 1 away, stop and "
            "call the supervisor.",
        )
        if parts
        else (),
        cautions=tuple(cautions),
        refused=refused,
        reasons=tuple(reasons),
    )


def _top_up_refused(
    salinity: float, salinity_after: float, temperature_c: float, after_c: float
) -> tuple[str, ...]:
    if salinity - salinity_after > DAILY_SALINITY_DOWN:
        return (
            f"Salinity would fall from {salinity:.1f} to {salinity_after:.1f}, more than "
            f"{DAILY_SALINITY_DOWN:.0f} in a day: let in part today. Had it not risen before, look "
            "for a leak and fill with water of like salinity.",
        )
    if abs(after_c - temperature_c) > DAILY_TEMPERATURE_C:
        return (
            f"The water would go from {temperature_c:.1f} to {after_c:.1f} degC: bring the new "
            "water nearer first.",
        )
    return ()
