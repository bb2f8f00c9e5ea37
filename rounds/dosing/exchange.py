"""Exchanging water: what is left of a substance, how long it takes, and one partial exchange."""

from __future__ import annotations

from math import ceil, exp, inf, log
from typing import Final

from rounds.dosing.advice import Advice
from rounds.dosing.portions import portions
from rounds.reason import Reason
from rounds.units import Amount
from rounds.water.ranges import within
from rounds.water.seawater import density_kg_m3, heat_capacity_j_kg_k

HOURLY_TEMPERATURE_C: Final = 1.0  # common practice
DAILY_TEMPERATURE_C: Final = 3.0  # common practice: 2 to 3
HOURLY_SALINITY: Final = 1.0  # common practice; estuarine fish stand more
DAILY_SALINITY_UP: Final = 2.0  # common practice: 2 to 3
DAILY_SALINITY_DOWN: Final = 5.0  # common practice
INSTRUMENT_SALINITY: Final = 0.5  # what a handheld can tell apart; common practice
MOST_PORTIONS: Final = 24  # one an hour
MOST_REPLACED: Final = 0.95  # common practice


class WaterChange(Advice, frozen=True, kw_only=True):
    """Water out and in for one day. Refused or not needed: no portions and 0 L.

    `kept_fraction` is how much of any dissolved substance is left, if the new water holds none.
    `left_fraction` is the part of the wanted exchange that remains for another day.
    """

    volume_out_l: float
    volume_in_l: float
    portions_l: tuple[float, ...]
    hours_between: float
    salinity: float
    temperature_c: float
    kept_fraction: float
    left_fraction: float

    @property
    def after(self) -> dict[str, float]:
        """What the meters should show after all of it."""
        return {"practical_salinity": self.salinity, "temperature_c": self.temperature_c}


def after_batches(before: float, incoming: float, fraction: float, times: int = 1) -> float:
    """Return a concentration after draining and filling the same fraction several times.

    Args:
        before: Concentration in the loop, 0 to 1e6, any unit.
        incoming: In the new water, same unit, 0 to 1e6.
        fraction: Of the water each time, 0 to 1.
        times: 0 to 10,000.

    Returns:
        The concentration, between the two.

    Raises:
        ValueError: Outside the range.

    Source: C = Cin + (C0 - Cin)(1 - x)^n.
    """
    within("concentration", before, 0, 1e6)
    within("incoming concentration", incoming, 0, 1e6)
    within("fraction", fraction, 0, 1)
    within("times", times, 0, 10_000)
    kept = 1.0
    for _ in range(times):
        kept *= 1 - fraction
    return incoming + (before - incoming) * kept


def after_flow(
    before: float,
    incoming: float,
    flow_m3_h: float,
    volume_m3: float,
    hours: float,
    production_g_h: float = 0.0,
) -> float:
    """Return a concentration after a steady flow through a mixed loop, with what is made in it.

    Args:
        before: Concentration now, 0 to 1e6; mg/L when something is produced.
        incoming: In the new water, same unit, 0 to 1e6.
        flow_m3_h: New water, 0 to 1e5 m3/h.
        volume_m3: 0.0001 to 1e6 m3.
        hours: 0 to 1e5 h.
        production_g_h: Made in the loop, 0 to 1e6 g/h.

    Returns:
        The concentration.

    Raises:
        ValueError: Outside the range.

    Source: mixed tank, C = Css + (C0 - Css) exp(-Q t / V), Css = Cin + P / Q.
    """
    within("concentration", before, 0, 1e6)
    within("incoming concentration", incoming, 0, 1e6)
    within("flow", flow_m3_h, 0, 1e5, "m3/h")
    within("volume", volume_m3, 1e-4, 1e6, "m3")
    within("time", hours, 0, 1e5, "h")
    within("production", production_g_h, 0, 1e6, "g/h")
    if flow_m3_h == 0:
        return before + production_g_h * hours / volume_m3
    steady = incoming + production_g_h / flow_m3_h
    return steady + (before - steady) * exp(-flow_m3_h * hours / volume_m3)


def hours_to_reach(
    before: float,
    target: float,
    incoming: float,
    flow_m3_h: float,
    volume_m3: float,
    production_g_h: float = 0.0,
) -> float:
    """Return the hours of steady flow until a concentration reaches a target.

    Args:
        before: Concentration now, 0 to 1e6.
        target: Wanted, 0 to 1e6.
        incoming: In the new water, 0 to 1e6.
        flow_m3_h: New water, 0.000001 to 1e5 m3/h.
        volume_m3: 0.0001 to 1e6 m3.
        production_g_h: Made in the loop, 0 to 1e6 g/h.

    Returns:
        Hours; infinite when the target is what the loop only tends to.

    Raises:
        ValueError: Outside the range, or the target does not lie between now and the level the
            loop tends to.

    Source: inverse of `after_flow`.
    """
    within("concentration", before, 0, 1e6)
    within("target", target, 0, 1e6)
    within("incoming concentration", incoming, 0, 1e6)
    within("flow", flow_m3_h, 1e-6, 1e5, "m3/h")
    within("volume", volume_m3, 1e-4, 1e6, "m3")
    within("production", production_g_h, 0, 1e6, "g/h")
    steady = incoming + production_g_h / flow_m3_h
    within("target", target, min(before, steady), max(before, steady))
    if target == before:
        return 0.0
    if target == steady:
        return inf
    return volume_m3 / flow_m3_h * log((before - steady) / (target - steady))


def mixed_salinity(
    first_kg: float, first_salinity: float, second_kg: float, second_salinity: float
) -> float:
    """Return the salinity of two waters mixed (0 to 1e9 kg each, not both 0; salinity 0 to 42).

    Raises:
        ValueError: Outside the range.

    Source: salt is conserved.
    """
    within("mass", min(first_kg, second_kg), 0, 1e9, "kg")
    within("mass of both", first_kg + second_kg, 1e-9, 2e9, "kg")
    within("salinity", first_salinity, 0, 42)
    within("salinity", second_salinity, 0, 42)
    salt = first_kg * first_salinity + second_kg * second_salinity
    return salt / (first_kg + second_kg)


def mixed_temperature_c(
    first_kg: float,
    first_c: float,
    first_salinity: float,
    second_kg: float,
    second_c: float,
    second_salinity: float,
) -> float:
    """Return the temperature of two waters mixed.

    Args:
        first_kg: 0 to 1e9 kg, not both 0.
        first_c: 0 to 40 degC.
        first_salinity: 0 to 42.
        second_kg: 0 to 1e9 kg.
        second_c: 0 to 40 degC.
        second_salinity: 0 to 42.

    Returns:
        Temperature in degC, no heat lost.

    Raises:
        ValueError: Outside the range.

    Source: heat is conserved; specific heats of UNESCO 44, 1983.
    """
    within("mass", min(first_kg, second_kg), 0, 1e9, "kg")
    within("mass of both", first_kg + second_kg, 1e-9, 2e9, "kg")
    first = first_kg * heat_capacity_j_kg_k(first_c, first_salinity)
    second = second_kg * heat_capacity_j_kg_k(second_c, second_salinity)
    return (first * first_c + second * second_c) / (first + second)


def partial_exchange(
    *,
    volume_m3: float,
    fraction: float,
    temperature_c: float,
    practical_salinity: float,
    in_temperature_c: float,
    in_salinity: float,
    stocked: bool = True,
) -> WaterChange:
    """Return one partial exchange, drain then fill to the same mark, in steps fish stand.

    Args:
        volume_m3: The water as it is today, 0.01 to 100,000 m3.
        fraction: Of the old water to be replaced in the end, 0 to 0.95.
        temperature_c: Of the loop, 0 to 40 degC.
        practical_salinity: Of the loop, 0 to 42.
        in_temperature_c: Of the new water, 0 to 40 degC.
        in_salinity: Of the new water, 0 to 42.
        stocked: Fish in the loop: at most 1 degC and 1 unit of salinity an hour, 3 degC and 2 units
            up or 5 units down a day.

    Returns:
        Litres, portions, and the water after it.

    Raises:
        ValueError: Outside the range.

    Source: mass, salt and heat conserved; limits: common practice.
    """
    within("volume", volume_m3, 0.01, 100_000, "m3")
    within("fraction", fraction, 0, MOST_REPLACED)
    density_kg_m3(temperature_c, practical_salinity)
    density_kg_m3(in_temperature_c, in_salinity)
    warming, salting = in_temperature_c - temperature_c, in_salinity - practical_salinity
    today, count, limits = fraction, 1, ""
    if stocked:
        salinity_limit = DAILY_SALINITY_UP if salting > 0 else DAILY_SALINITY_DOWN
        share_t = DAILY_TEMPERATURE_C / abs(warming) if warming else inf
        share_s = salinity_limit / abs(salting) if salting else inf
        today = min(fraction, share_t, share_s)
        if today < fraction:
            limits = "temperature" if share_t < share_s else "salinity"
        count = _count(today, warming, salting)
    each = _share(today, count)
    parts = portions(each * count * volume_m3 * 1000, count)
    salinity, warm, kept = practical_salinity, temperature_c, 1.0
    for part in parts:
        stays = (volume_m3 - part / 1000) * density_kg_m3(warm, salinity)
        comes = part / 1000 * density_kg_m3(in_temperature_c, in_salinity)
        warm, salinity = (
            mixed_temperature_c(stays, warm, salinity, comes, in_temperature_c, in_salinity),
            mixed_salinity(stays, salinity, comes, in_salinity),
        )
        kept *= 1 - part / 1000 / volume_m3
    total = sum(parts)
    cautions = []
    if limits:
        cautions.append(
            f"{100 * today:.0f} of {100 * fraction:.0f} % today, as the new water's {limits} is "
            "far off: the rest tomorrow."
        )
    if parts:
        cautions += _cautions(today, warming)
        if abs(salinity - practical_salinity) >= INSTRUMENT_SALINITY:
            cautions.append(
                f"The new water, salinity {in_salinity:.1f}, moves the loop from "
                f"{practical_salinity:.1f} to {salinity:.1f}: stop if that is not meant."
            )
    return WaterChange(
        volume_out_l=total,
        volume_in_l=total,
        portions_l=parts,
        hours_between=1.0 if len(parts) > 1 else 0.0,
        salinity=salinity,
        temperature_c=warm,
        kept_fraction=kept,
        left_fraction=max(fraction - today, 0.0),
        expect=f"Salinity {salinity:.1f} and {warm:.1f} degC after it."
        if parts
        else "No water needed.",
        how=(
            "Drain each portion from the sump or the lowest drain, pumps safe from running dry.",
            "Fill slowly into fast flow or the sump, never onto fish, to the same mark.",
        )
        if parts
        else (),
        measure_after=(
            "Temperature and salinity after each portion: stop and call the supervisor if either "
            "moved more than 1.",
            f"At the end expect salinity {salinity:.1f} and {warm:.1f} degC; read oxygen and pH.",
        )
        if parts
        else (),
        cautions=tuple(cautions),
        refused=(),
        reasons=(
            Reason(
                "{part:.0f} % of {volume:.2f} in {count} portions: {total:.0f} out and in",
                {
                    "part": 100 * today,
                    "volume": Amount(volume_m3, "m^3"),
                    "count": len(parts),
                    "total": Amount(total, "L"),
                },
                "n portions of 1 - (1 - x)^(1/n)",
            ),
            Reason(
                "Salinity {s0:.1f} with {s1:.1f} gives {s:.1f}; {t0:.1f} with {t1:.1f} degC gives "
                "{t:.1f}",
                {
                    "s0": practical_salinity,
                    "s1": in_salinity,
                    "s": salinity,
                    "t0": temperature_c,
                    "t1": in_temperature_c,
                    "t": warm,
                },
                "salt and heat conserved",
            ),
            Reason(
                "{kept:.0f} % of what is dissolved stays, if the new water holds none",
                {"kept": 100 * kept},
            ),
        ),
    )


def _share(fraction: float, count: int) -> float:
    """What part each of `count` equal exchanges takes, so that together they replace `fraction`."""
    return 1 - exp(log(1 - fraction) / count)


def _count(fraction: float, warming: float, salting: float) -> int:
    """As few portions as keep the first, largest step within what fish stand in an hour."""
    worst = max(abs(warming) / HOURLY_TEMPERATURE_C, abs(salting) / HOURLY_SALINITY)
    for count in range(max(1, ceil(worst * fraction - 1e-9)), MOST_PORTIONS):
        if _share(fraction, count) * worst <= 1 + 1e-9:
            return count
    return MOST_PORTIONS


def _cautions(today: float, warming: float) -> list[str]:
    out = ["Test the new water for chlorine: at any colour, do not use it."]
    if abs(warming) >= HOURLY_TEMPERATURE_C:
        way = "warmer" if warming > 0 else "colder"
        out.append(f"The new water is {abs(warming):.1f} degC {way}: bring it to the loop's first.")
    if warming <= -HOURLY_TEMPERATURE_C:
        out.append("Cold water that warms gives off gas: aerate it well before it meets fish.")
    if today > 0.5:
        out.append("More than half of the water in a day: ask the supervisor first.")
    out.append("Its pH changes ammonia: read pH after it. Discharge only as the permit allows.")
    return out
