"""The feed tables of a site drawn: ration against weight, and where today's tanks stand in them."""

from __future__ import annotations

from collections.abc import Sequence
from string import ascii_lowercase, ascii_uppercase, digits
from typing import Final

from msgspec import Struct

from rounds.day.feeding.rations import Ration
from rounds.fish.ration import RationTable
from rounds.reports.plot import Dots, Series, plot
from rounds.site.model import Site

_TANKS: Final = digits[1:] + ascii_uppercase


class TableInUse(Struct, frozen=True):
    """A species' feed table and the tanks fed by it today."""

    species: str
    table: RationTable
    feeding: tuple[Ration, ...]


def in_use(site: Site, feeding: Sequence[Ration]) -> tuple[TableInUse, ...]:
    """Return the feed tables of today's rations, in walking order.

    Args:
        site: The site.
        feeding: Today's rations.
    """
    found: dict[str, list[Ration]] = {}
    for ration in feeding:
        species = site.species_of(site.places[ration.place])
        if species is not None and ration.opinions:
            found.setdefault(species.code, []).append(ration)
    return tuple(
        TableInUse(site.species[code].name, site.species[code].table, tuple(fed))
        for code, fed in found.items()
    )


def drawn(
    one: TableInUse, *, width: int = 80, height: int = 18, dots: Dots = "ascii"
) -> tuple[str, ...]:
    """Draw a feed table with a line a temperature and a mark a tank.

    Args:
        one: The table and its tanks.
        width: Columns.
        height: Rows of the drawing.
        dots: "ascii" or "braille".

    Returns:
        The drawing, then a line a tank: its weight, temperature and rate.
    """
    table, lines = one.table, []
    series = [
        Series(
            f"{warm:g} degC",
            ascii_lowercase[column % 26],
            tuple((w, table.percent[row][column]) for row, w in enumerate(table.weights_g)),
        )
        for column, warm in enumerate(table.temperatures_c)
    ]
    for n, ration in enumerate(one.feeding):
        mark = _TANKS[n % len(_TANKS)]
        if ration.rate_percent is None or ration.temperature_c is None:
            lines.append(f"   {ration.place:<6}{ration.mean_weight_g:>7.4g} g, no rate today")
            continue
        point = (ration.mean_weight_g, ration.rate_percent)
        series.append(Series(ration.place, mark, (point,), joined=False))
        lines.append(
            f" {mark} {ration.place:<6}{ration.mean_weight_g:>7.4g} g, "
            f"{ration.temperature_c:.1f} degC: {ration.rate_percent:.2f} %"
        )
    figure = plot(
        series, width=width, height=height, log_x=True, dots=dots,
        x_label="mean weight, g", y_label="% of body weight a day",
    )  # fmt: skip
    return (*figure, "", *lines)


def about(one: TableInUse) -> str:
    """Return whose the table is, and that nobody has verified it where that is so."""
    table = one.table
    feed = f", for {table.feed}" if table.feed else ""
    energy = f" of {table.energy_kj_g:g} kJ/g" if table.energy_kj_g else ""
    return f"Feed table of {one.species}{feed}{energy}: {table.source}"
