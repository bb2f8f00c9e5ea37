"""Wet feed against pellets: dry matter, energy, and FCR told on either basis."""

from __future__ import annotations

from rounds.water.ranges import within


def wet_equivalent_kg(pellet_kg: float, pellet_dm_percent: float, wet_dm_percent: float) -> float:
    """Return the wet feed with the same dry matter as some pellets, kg.

    Args:
        pellet_kg: Pellets, kg, 0 to 1e6.
        pellet_dm_percent: Their dry matter, 50 to 100 %.
        wet_dm_percent: Dry matter of the wet feed, 5 to 100 %; dry a sample each month.

    Returns:
        kg wet.

    Raises:
        ValueError: An argument is out of range.

    Source: dry-matter balance.
    """
    within("pellets", pellet_kg, 0, 1e6, "kg")
    within("dry matter of the pellets", pellet_dm_percent, 50, 100, "%")
    within("dry matter of the wet feed", wet_dm_percent, 5, 100, "%")
    return pellet_kg * pellet_dm_percent / wet_dm_percent


def fcr_wet(fcr_dry: float, pellet_dm_percent: float, wet_dm_percent: float) -> float:
    """Return a pellet FCR told on the wet basis of a forage; ranges as `wet_equivalent_kg`.

    Raises:
        ValueError: An argument is out of range, or the FCR outside 0.1 to 20.

    Source: dry-matter balance.
    """
    within("FCR", fcr_dry, 0.1, 20)
    return wet_equivalent_kg(fcr_dry, pellet_dm_percent, wet_dm_percent)


def wet_dry_ratio(wet_fcr: tuple[float, float], dry_fcr: tuple[float, float]) -> float:
    """Return how many times more wet feed than pellets a kilogram of gain takes.

    Args:
        wet_fcr: FCR on wet feed, low and high of the printed range, 0.1 to 100.
        dry_fcr: FCR on pellets, low and high, 0.1 to 20.

    Returns:
        Ratio of the midpoints; 4 to 5 is usual.

    Raises:
        ValueError: An argument is out of range.

    Source: FAO, Fish as feed inputs for aquaculture, Table 12.
    """
    for value in wet_fcr:
        within("FCR on wet feed", value, 0.1, 100)
    for value in dry_fcr:
        within("FCR on pellets", value, 0.1, 20)
    return sum(wet_fcr) / sum(dry_fcr)


def bay_anchovy_j_g(dm_percent: float) -> float:
    """Return the energy of bay anchovy, J/g wet.

    Args:
        dm_percent: Dry matter, 15 to 35 % (range from memory).

    Returns:
        J/g wet.

    Raises:
        ValueError: The dry matter is out of range.

    Source: Hartman & Brandt 1995, Trans. Am. Fish. Soc. 124, digitised: 702.75 + 154.19 per %.
    """
    within("dry matter", dm_percent, 15, 35, "%")
    return 702.75 + 154.19 * dm_percent


def wet_equivalent_by_energy_kg(
    pellet_kg: float, pellet_kj_g: float, wet_kj_g: float, digestibility: float = 0.90
) -> float:
    """Return the wet feed with the same digestible energy as some pellets, kg.

    Args:
        pellet_kg: Pellets, kg, 0 to 1e6.
        pellet_kj_g: Their digestible energy, 5 to 30 kJ/g.
        wet_kj_g: Energy of the wet feed, 0.5 to 30 kJ/g.
        digestibility: Of the wet feed, 0.1 to 1; 0.90 is an assumption.

    Returns:
        kg wet.

    Raises:
        ValueError: An argument is out of range.

    Source: energy balance.
    """
    within("pellets", pellet_kg, 0, 1e6, "kg")
    within("energy of the pellets", pellet_kj_g, 5, 30, "kJ/g")
    within("energy of the wet feed", wet_kj_g, 0.5, 30, "kJ/g")
    within("digestibility", digestibility, 0.1, 1)
    return pellet_kg * pellet_kj_g / (wet_kj_g * digestibility)
