"""The stock sheet: the fish of each tank, how they grow, and what is next for them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.binding import BindingType
from textual.content import Content

from rounds.day.lots.growth import Growth, growths
from rounds.day.lots.moving import Plan, plan, plan_lines
from rounds.day.lots.projection import Projection, project
from rounds.day.when import long_day
from rounds.reports.growth_chart import growth_chart
from rounds.reports.told import Told, measured
from rounds.screens.ink import BOLD, QUIET, cell, ink, row
from rounds.screens.keys import bind
from rounds.screens.listing import Listing, Row

_HEADS = (
    ("Fish", 7), ("Mean g", 8), ("kg", 7), ("kg/m3", 7), ("SGR %", 7), ("FCR", 6),
)  # fmt: skip


_NARROW = 76
"""Cells below which growth, feed and mass are left to what is said of the marked lot."""
_FEW = (0, 1, 3)


class StockPage(Listing):
    """One row a lot in a place."""

    BINDINGS: ClassVar[list[BindingType]] = [bind("g", "growth", "growth curve")]
    about = (
        "The stock sheet shows number, mean weight, biomass and density of the fish in each tank, "
        "their growth since they were first weighed there (SGR, percent a day) and the feed for "
        "it (FCR). Under it stands what is next for the marked lot: splitting, grading, harvest, "
        "room elsewhere. W opens why."
    )
    nothing = "No fish on record: K records fish that came"

    def __init__(self) -> None:
        super().__init__("STOCK")
        self._grown: tuple[Growth, ...] = ()

    def heading(self) -> Content:
        """Return how many fish there are and what they weigh."""
        mass = sum(one.biomass_kg for one in self._grown)
        fish = sum(one.count for one in self._grown)
        return ink(f"{fish} fish, {mass:.1f} kg", BOLD)

    def heads(self) -> Sequence[Content]:
        """Return the heads of the cells."""
        heads = row(
            "   ", cell("Place", 6, QUIET), cell("Lot", 8, QUIET),
            *(cell(*_HEADS[n], QUIET, "right") for n in _shown(self.width)),
            "  ", ink("Next", QUIET),
        )  # fmt: skip
        return [heads]

    def listed(self) -> Sequence[Row]:
        """Work out growth and what is next of every lot."""
        site, farm, now = self.desk.site, self.desk.farm, self.desk.now()
        self._grown = growths(site, farm, now)
        found = []
        for one in self._grown:
            ahead = project(site, farm, one, now)
            after = plan(site, farm, one, ahead, now)
            found.append(
                Row(
                    _cells(one, ahead, after, self.width),
                    _told(one, ahead, after),
                    one.place,
                    f"{one.place} {one.lot}",
                )
            )
        return found

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer the curve where there are fish."""
        if action == "growth":
            return bool(self._grown)
        return super().check_action(action, parameters)

    def action_growth(self) -> None:
        """Draw how the marked lot grew."""
        from rounds.screens.leaf import Leaf

        one, desk = self._grown[self.chosen], self.desk
        size = self.app.size
        figure = growth_chart(
            desk.site, desk.farm, one, desk.now(), width=size.width - 4, height=size.height - 9
        )
        self.app.push_screen(Leaf("GROWTH", f"{one.place}  {one.lot}", (), figure=figure))


def _shown(width: int) -> Sequence[int]:
    return _FEW if width < _NARROW else range(len(_HEADS))


def _cells(one: Growth, ahead: Projection, after: Plan, width: int) -> Content:
    figures = (
        f"{one.count}", f"{one.weight_g:.4g}", _or(one.biomass_kg, ".1f"),
        _or(one.density_kg_m3, ".1f"), _or(one.sgr_percent_day, ".2f"),
        _or(one.fcr_economic, ".2f"),
    )  # fmt: skip
    return row(
        cell(one.place, 6, "bold"), cell(one.lot, 8),
        *(cell(figures[n], _HEADS[n][1], align="right") for n in _shown(width)),
        "  ", ink(_next(ahead, after)),
    )  # fmt: skip


def _next(ahead: Projection, after: Plan) -> str:
    """Return what comes first and its day, in few cells; the sheet says the rest."""
    if after.split_by is not None:
        return f"split {long_day(after.split_by)}"
    if (day := ahead.market.day) is not None:
        return f"market {long_day(day)}"
    return "no date" if ahead.market.says else "-"


def _told(one: Growth, ahead: Projection, after: Plan) -> Told:
    says = [*plan_lines(after)]
    says += [
        f"{name} {_or(value, spec)}"
        for name, value, spec in (
            ("biomass, kg", one.biomass_kg, ".1f"),
            ("growth, percent a day", one.sgr_percent_day, ".2f"),
            ("feed for a kilogram of growth", one.fcr_economic, ".2f"),
        )
        if value is not None
    ]
    says += [f"not said: {text}" for text in (one.fcr_says, one.tgc_says) if text]
    says += [
        f"in {day.days} days {day.weight_g:.4g} g ({day.low_g:.4g} to {day.high_g:.4g}), "
        f"{day.biomass_kg:.4g} kg"
        for day in ahead.ahead
    ]
    return Told(
        f"{one.place}  {one.lot}: {one.count} fish of {one.weight_g:.4g} g",
        (*says, *measured(one.missing, one.cautions)),
        (*one.reasons, *ahead.reasons, *after.reasons),
    )


def _or(value: float | None, spec: str) -> str:
    if value is None:
        return "-"
    return format(value, spec if value >= 1 or not value else ".2g")
