"""Larvae and the live food in their tank: what is eaten, what to add, who is left."""

from __future__ import annotations

from typing import Final

from rounds.water.ranges import within

ROTIFERS_A_LARVA_DAY: Final = 1900.0  # eaten at most; public extension text on live feeds


def _check_top_up(
    tank_l: float, target_per_ml: float, residual_per_ml: float, culture_per_ml: float
) -> float:
    """Return the missing density, per mL, 0 when there is enough."""
    within("tank", tank_l, 0.1, 1e7, "L")
    within("target", target_per_ml, 0, 1e5, "per mL")
    within("residual", residual_per_ml, 0, 1e5, "per mL")
    within("culture", culture_per_ml, 0, 1e6, "per mL")
    return max(0.0, target_per_ml - residual_per_ml)


def culture_to_add_l(
    tank_l: float, target_per_ml: float, residual_per_ml: float, culture_per_ml: float
) -> float:
    """Return the culture to pour in, its own water counted, L.

    Args:
        tank_l: Water in the larval tank, L, 0.1 to 1e7.
        target_per_ml: Wanted density, per mL, 0 to 100,000.
        residual_per_ml: Density left in the tank, per mL, 0 to 100,000.
        culture_per_ml: Density of the culture, per mL, 0 to 1e6.

    Returns:
        L; 0 when the tank has enough.

    Raises:
        ValueError: An argument is out of range, or the culture is no denser than the target.

    Source: balance of animals and water.
    """
    missing = _check_top_up(tank_l, target_per_ml, residual_per_ml, culture_per_ml)
    if missing == 0:
        return 0.0
    if culture_per_ml <= target_per_ml:
        raise ValueError(
            f"culture {culture_per_ml:g} per mL is no denser than the target "
            f"{target_per_ml:g} per mL: sieve and rinse it instead"
        )
    return tank_l * missing / (culture_per_ml - target_per_ml)


def culture_to_sieve_l(
    tank_l: float, target_per_ml: float, residual_per_ml: float, culture_per_ml: float
) -> float:
    """Return the culture to sieve and rinse, no water added to the tank, L; args as to add.

    Raises:
        ValueError: An argument is out of range, or the culture is empty.

    Source: balance of animals.
    """
    missing = _check_top_up(tank_l, target_per_ml, residual_per_ml, culture_per_ml)
    if missing == 0:
        return 0.0
    within("culture", culture_per_ml, 1e-3, 1e6, "per mL")
    return tank_l * missing / culture_per_ml


def eaten_per_day(larvae: float, per_larva_day: float = ROTIFERS_A_LARVA_DAY) -> float:
    """Return the live food that larvae eat in a day.

    Args:
        larvae: Fish, 0 to 1e9.
        per_larva_day: Eaten by one, 0 to 100,000.

    Returns:
        Animals a day.

    Raises:
        ValueError: An argument is out of range.

    Source: public extension text on live feeds, up to 1,900 rotifers a larva and day.
    """
    within("larvae", larvae, 0, 1e9, "fish")
    within("eaten by a larva", per_larva_day, 0, 1e5, "a day")
    return larvae * per_larva_day


def supplied_per_larva(per_larva_day: float, supply_factor: float, days: float) -> float:
    """Return the live food to grow for one larva over some days.

    Args:
        per_larva_day: Eaten by one, 0 to 100,000 a day.
        supply_factor: Supplied over eaten, 1 to 20; 3 in the printed example.
        days: 0 to 200.

    Returns:
        Animals a larva.

    Raises:
        ValueError: An argument is out of range.

    Source: public extension text on live feeds.
    """
    within("supply factor", supply_factor, 1, 20)
    within("time", days, 0, 200, "days")
    return eaten_per_day(1, per_larva_day) * supply_factor * days


def needed_until_next(
    tank_l: float,
    target_per_ml: float,
    residual_per_ml: float,
    larvae: float,
    per_larva_day: float,
    hours: float,
) -> float:
    """Return the animals to add now: what is missing, and what is eaten until the next top-up.

    Args:
        tank_l: Water in the larval tank, L, 0.1 to 1e7.
        target_per_ml: Wanted density, per mL, 0 to 100,000.
        residual_per_ml: Density left in the tank, per mL, 0 to 100,000.
        larvae: Fish, from the ledger, 0 to 1e9.
        per_larva_day: Eaten by one, 0 to 100,000 a day.
        hours: Of light until the next top-up, 0 to 24.

    Returns:
        Animals; what the tank has above target counts towards the eating.

    Raises:
        ValueError: An argument is out of range.

    Source: balance.
    """
    _check_top_up(tank_l, target_per_ml, residual_per_ml, 0)
    within("time to the next top-up", hours, 0, 24, "h")
    missing = (target_per_ml - residual_per_ml) * tank_l * 1000
    return max(0.0, missing + eaten_per_day(larvae, per_larva_day) * hours / 24)


def larvae_left(larvae_per_l: float, tank_l: float, survival_fraction: float) -> float:
    """Return the larvae alive in a tank.

    Args:
        larvae_per_l: Stocked, per L, 0 to 10,000.
        tank_l: Water, L, 0.1 to 1e7.
        survival_fraction: 0 to 1.

    Returns:
        Fish.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    within("larvae", larvae_per_l, 0, 10_000, "per L")
    within("tank", tank_l, 0.1, 1e7, "L")
    within("survival", survival_fraction, 0, 1)
    return larvae_per_l * tank_l * survival_fraction
