"""How much to feed a day: the feed table, growth-based, and the last accepted intake compared."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise
from typing import Final, Literal

from msgspec import Struct

from rounds.reason import Reason, Reasons
from rounds.units import Amount
from rounds.water.ranges import within

FCR_RANGE: Final = (0.8, 3.0)  # common practice: an own FCR outside this is not used as it is
CHOOSE_ABOVE: Final = 1.25  # common practice: opinions further apart than this need a person


class RationTable(Struct, frozen=True):
    """Percent of body weight a day on a weight by temperature grid, for one feed.

    `percent[i][j]` belongs to `weights_g[i]` and `temperatures_c[j]`, both rising. `basis` says
    whether the percent is of dry pellets or of wet feed. An unverified table is told as such.

    Raises:
        ValueError: An axis does not rise, the grid has a gap, or a percent is outside 0 to 100.
    """

    weights_g: tuple[float, ...]
    temperatures_c: tuple[float, ...]
    percent: tuple[tuple[float, ...], ...]
    source: str
    basis: Literal["dry", "wet"] = "dry"
    verified: bool = True
    feed: str = ""
    """The one feed it is for, where it names one, and that feed's digestible energy."""
    energy_kj_g: float | None = None

    def __post_init__(self) -> None:
        for name, axis, low, high, unit in (
            ("table weight", self.weights_g, 1e-4, 50_000, "g"),
            ("table temperature", self.temperatures_c, -2, 40, "degC"),
        ):
            for value in axis:
                within(name, value, low, high, unit)
            if not axis or any(b <= a for a, b in pairwise(axis)):
                raise ValueError(f"{name}s do not rise: {', '.join(f'{v:g}' for v in axis)} {unit}")
        for weight_g, row in zip(self.weights_g, self.percent, strict=True):
            if len(row) != len(self.temperatures_c):
                raise ValueError(
                    f"table row of {weight_g:g} g has {len(row)} values, "
                    f"not {len(self.temperatures_c)}"
                )
            for value in row:
                within("table ration", value, 0, 100, "% a day")

    @classmethod
    def from_points(cls, points: Sequence[tuple[float, float, float]], source: str) -> RationTable:
        """Return the table of (weight_g, temperature_c, percent_day) points in any order.

        Raises:
            ValueError: A point is missing from the grid or stands twice.
        """
        grid = {(weight_g, temperature_c): percent for weight_g, temperature_c, percent in points}
        weights = tuple(sorted({w for w, _ in grid}))
        temperatures = tuple(sorted({t for _, t in grid}))
        if len(grid) != len(points):
            raise ValueError("a point of the feed table stands twice")
        missing = [
            f"{w:g} g {t:g} degC" for w in weights for t in temperatures if (w, t) not in grid
        ]
        if missing:
            raise ValueError(f"the feed table has no value at {', '.join(missing)}")
        rows = tuple(tuple(grid[w, t] for t in temperatures) for w in weights)
        return cls(weights, temperatures, rows, source)


class TableRate(Struct, frozen=True):
    """A rate read from a table; `clamped` names what was held at the table's edge."""

    percent_day: float
    clamped: tuple[str, ...]
    reasons: Reasons


def rate(table: RationTable, weight_g: float, temperature_c: float) -> TableRate:
    """Return the ration of a fish from a table, straight in ln W and in T.

    Args:
        table: The feed table.
        weight_g: Mean weight, g, 0.0001 to 50,000.
        temperature_c: Water temperature, degC, -2 to 40.

    Returns:
        Percent of body weight a day. Outside the table the edge is held, never extrapolated,
        and `clamped` names "weight" or "temperature".

    Raises:
        ValueError: An argument is out of range.

    Source: common practice (interpolation); the table's own source stands in the reasons.
    """
    within("weight", weight_g, 1e-4, 50_000, "g")
    within("temperature", temperature_c, -2, 40, "degC")
    heavy, weight_share, weight_held = _place(
        [math.log(w) for w in table.weights_g], math.log(weight_g)
    )
    warm, warm_share, warm_held = _place(table.temperatures_c, temperature_c)
    light_row, heavy_row = table.percent[max(heavy - 1, 0)], table.percent[heavy]
    cool, hot = (
        _mix(light_row[column], heavy_row[column], weight_share)
        for column in (max(warm - 1, 0), warm)
    )
    percent_day = _mix(cool, hot, warm_share)
    clamped = ("weight",) * weight_held + ("temperature",) * warm_held
    reasons = [
        Reason(
            "table at {weight:.4g} and {temperature:.1f}: {percent:.2f} % of body weight a day",
            {
                "weight": Amount(weight_g, "g"),
                "temperature": Amount(temperature_c, "degC"),
                "percent": percent_day,
            },
            table.source,
        )
    ]
    for name in clamped:
        reasons.append(Reason("{name} is outside the table: held at its edge", {"name": name}))
    if not table.verified:
        reasons.append(Reason("this table is unverified: use the feed maker's when you have it"))
    return TableRate(percent_day, clamped, tuple(reasons))


def largest_percent(table: RationTable, weight_g: float) -> float:
    """Return the largest ration of a table for fish of a weight, at whatever temperature.

    Args:
        table: The feed table.
        weight_g: Mean weight, g, 0.0001 to 50,000; held at the table's edge.

    Returns:
        Percent of body weight a day.

    Raises:
        ValueError: The weight is out of range.

    Source: definition.
    """
    return max(rate(table, weight_g, warm).percent_day for warm in table.temperatures_c)


def between_points(points: Sequence[tuple[float, float]], weight_g: float) -> TableRate:
    """Return the ration between printed (weight_g, percent_day) points, straight on both logs.

    Args:
        points: Two numbers a point, weights rising, g and % of body weight a day above 0.
        weight_g: Mean weight, g, 0.0001 to 50,000.

    Returns:
        Percent of body weight a day, held at the ends and then told in `clamped`.

    Raises:
        ValueError: No point, weights that do not rise, or a value out of range.

    Source: common practice (a ration falls with a power of weight).
    """
    within("weight", weight_g, 1e-4, 50_000, "g")
    for at_g, percent in points:
        within("printed weight", at_g, 1e-4, 50_000, "g")
        within("printed ration", percent, 1e-3, 100, "% a day")
    weights = [math.log(at_g) for at_g, _ in points]
    if not points or weights != sorted(set(weights)):
        raise ValueError("printed weights do not rise")
    upper, share, held = _place(weights, math.log(weight_g))
    low, high = (math.log(points[i][1]) for i in (max(upper - 1, 0), upper))
    percent_day = math.exp(_mix(low, high, share))
    reason = Reason(
        "between printed points at {weight:.4g}: {percent:.2f} % of body weight a day",
        {"weight": Amount(weight_g, "g"), "percent": percent_day},
    )
    held_reason = (Reason("weight is outside the printed points: held at the end"),) * held
    return TableRate(percent_day, ("weight",) * held, (reason, *held_reason))


def _place(axis: Sequence[float], value: float) -> tuple[int, float, bool]:
    """Return the upper neighbour, the share of the way to it, and whether the edge was held."""
    held = min(max(value, axis[0]), axis[-1])
    if len(axis) == 1:
        return 0, 0.0, held != value
    upper = min(bisect_right(axis, held), len(axis) - 1)
    share = (held - axis[upper - 1]) / (axis[upper] - axis[upper - 1])
    return upper, share, held != value


def _mix(low: float, high: float, share: float) -> float:
    mixed = low * (1 - share) + high * share
    return min(max(mixed, min(low, high)), max(low, high))


def ration_g_day(biomass_kg: float, percent_day: float) -> float:
    """Return biomass times rate, g/day.

    Args:
        biomass_kg: Fish, kg, 0 to 1e6.
        percent_day: Percent of body weight a day, 0 to 100, dry or wet as the rate is.

    Returns:
        Feed, g/day, on the rate's basis.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    within("biomass", biomass_kg, 0, 1e6, "kg")
    within("ration", percent_day, 0, 100, "% a day")
    return biomass_kg * percent_day * 10


def growth_ration_g_day(count: float, gain_g_day: float, fcr: float) -> float:
    """Return the feed that an expected gain calls for, g/day.

    Args:
        count: Fish, 0 to 1e8.
        gain_g_day: Expected gain, g/fish/day, 0 to 500.
        fcr: Feed per gain, 0.1 to 20; of the last 2 to 4 weeks, see `bounded_fcr`.

    Returns:
        Feed, g/day.

    Raises:
        ValueError: An argument is out of range.

    Source: definition of FCR.
    """
    within("count", count, 0, 1e8, "fish")
    within("gain", gain_g_day, 0, 500, "g/day")
    within("FCR", fcr, 0.1, 20)
    return count * gain_g_day * fcr


def bounded_fcr(fcr: float) -> float:
    """Return an own FCR held between 0.8 and 3, so that one odd fortnight cannot steer a ration.

    Raises:
        ValueError: Not above zero, or above 100.

    Source: common practice.
    """
    within("FCR", fcr, 1e-3, 100)
    return min(max(fcr, FCR_RANGE[0]), FCR_RANGE[1])


class Opinions(Struct, frozen=True):
    """The ration that governs, g/day, which opinion it is and why, and whether a person chooses."""

    governs_g: float
    governs: str
    why: str
    choose: bool
    reasons: Reasons


def compare(
    table_g: float, growth_g: float | None = None, accepted_g: float | None = None
) -> Opinions:
    """Return which of the three opinions of a day's ration governs.

    Args:
        table_g: By the table, g/day, 0 or more.
        growth_g: By expected growth, g/day, if known.
        accepted_g: Eaten on the last full day, g/day, if known.

    Returns:
        The table's ration while the opinions lie within a quarter of each other; else the
        smallest, until a person chooses.

    Raises:
        ValueError: A ration is negative or not finite.

    Source: common practice.
    """
    named = {"table": table_g, "growth": growth_g, "last accepted": accepted_g}
    known = {name: grams for name, grams in named.items() if grams is not None}
    for name, grams in known.items():
        within(f"ration by {name}", grams, 0, 1e9, "g/day")
    apart = max(known.values()) > CHOOSE_ABOVE * min(known.values())
    governs = min(known, key=lambda name: known[name]) if apart else "table"
    reasons = [
        Reason("by {name}: {grams:.0f} a day", {"name": name, "grams": Amount(grams, "g")})
        for name, grams in known.items()
    ]
    rule = (
        "they differ by more than a quarter: the smallest stands until a person chooses"
        if apart
        else "they agree within a quarter: the table governs"
    )
    if len(known) > 1:
        reasons.append(Reason(rule, {}, "common practice"))
    else:
        rule = "the table governs: nothing else is known yet"
    return Opinions(known[governs], governs, rule, apart, tuple(reasons))
