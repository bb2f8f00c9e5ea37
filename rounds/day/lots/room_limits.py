"""The limits of a tank's room: oxygen, ammonia, carbon dioxide, filter and space, each opened."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Final

from msgspec import Struct, field

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Stock
from rounds.day.fold.waters import water_m3
from rounds.day.lots.series import changes
from rounds.day.readings.derived import derived
from rounds.day.readings.inputs import OXYGEN, Inputs
from rounds.day.when import local_day, long_day
from rounds.fish import capacity as of_fish
from rounds.fish import ration as table
from rounds.fish.air import alarm_uptake_mg_kg_h
from rounds.fish.respiration import tan_production_g_day
from rounds.reason import Reason, Reasons, Value
from rounds.site.measures import MEASURES
from rounds.site.model import Place, Site, Species
from rounds.units import Amount, convert
from rounds.water.ammonia import un_ionised
from rounds.water.oxygen import from_percent_mg_l

OXYGEN_PER_FEED: Final = 0.4  # kg/kg, design figure, from memory
DAY: Final = timedelta(hours=24)
FLOW_LASTS: Final = timedelta(days=30)
"""A flow measured longer ago is measured again (common practice)."""
_WHEN: Final = ("over the day", "after a meal")
_WAYS: Final = {"in": -1, "out": 1}
"""What putting moved fish back does to the mass here."""
Kilograms = Callable[[float], float]
"""Fish that a limit allows, kg, for a mean weight in g."""


NAMES: Final = ("oxygen", "ammonia", "carbon dioxide", "filter", "space")


class Limit(Struct, frozen=True):
    """What one limit alone would allow; None, and what to measure, where it is not known."""

    name: str
    kg: float | None
    fish: int | None
    missing: str
    reasons: Reasons


class Limits(Struct):
    """Works out what each limit allows, as a function of the mean weight."""

    site: Site
    farm: Farm
    place: Place
    stocks: tuple[Stock, ...]
    now: datetime
    by: dict[str, Kilograms] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)
    reasons: dict[str, list[Reason]] = field(default_factory=dict)
    temperature_c: float | None = None
    moved_since: datetime | None = None
    """When fish came or went after a reading a limit rests on; None where none did."""

    def __post_init__(self) -> None:
        inputs = Inputs(self.farm, self.place, self.now)
        self.temperature_c = inputs.take("temperature")
        warm = list(inputs.reasons)
        by_name = dict(
            zip(
                NAMES,
                (self._oxygen, self._ammonia, self._co2, self._filter, self._space),
                strict=True,
            )
        )
        for name, work in by_name.items():
            self.reasons[name] = [] if name == "space" else list(warm)
            lacks = "" if name == "space" else "; ".join(inputs.missing) or self._lacks()
            try:
                found = lacks or work()
            except ValueError as error:
                found = f"{error}: measure it again"
            if isinstance(found, str):
                self.missing[name] = found
            else:
                self.by[name] = found

    def limit(self, name: str, weight_g: float) -> Limit:
        """Return a limit at a mean weight."""
        if name not in self.by:
            return Limit(name, None, None, self.missing[name], tuple(self.reasons[name]))
        kg = max(0.0, self.by[name](weight_g))
        fish = math.floor(kg * 1000 / weight_g + 1e-9)
        reasons = self.reasons[name]
        if name in ("oxygen", "carbon dioxide"):
            says = (
                "A fish of {weight:.4g} uses {day:.0f} mg/kg/h over the day, {fed:.0f} after a meal"
            )
            values: dict[str, Value] = {"weight": Amount(weight_g, "g")}
            uses = {"day": self._by_feed(weight_g), "fed": self._just_fed(weight_g)}
            reasons = [*reasons, Reason(says, {**values, **uses})]
        return Limit(name, kg, fish, "", tuple(reasons))

    def percent(self, weight_g: float) -> float | None:
        """Return the table's ration at a weight, % a day; None where there is none."""
        species = self.site.species_of(self.place)
        if self.temperature_c is None or species is None or self.place.stage == "larval":
            return None
        return _rate(species, weight_g, self.temperature_c)

    def _lacks(self) -> str:
        if self.place.stage == "larval":
            return "larvae are judged by their number in a litre, not here"
        if self.site.species_of(self.place) is None:
            return f"no species is set for {self.place.code}: put it into site.toml"
        return ""

    def _by_feed(self, weight_g: float) -> float:
        """Return what a kilogram of fish uses over a day, by its feed, mg oxygen/kg/h."""
        return of_fish.oxygen_need_mg_kg_h(OXYGEN_PER_FEED, self.percent(weight_g) or 0.0)

    def _just_fed(self, weight_g: float) -> float:
        """Return what it uses after a meal, mg oxygen/kg/h: as minutes of air are counted."""
        return alarm_uptake_mg_kg_h(weight_g, self.temperature_c or 0.0, 0.0)

    def _least(self, name: str, work: Callable[[Kilograms], Kilograms]) -> Kilograms:
        """Return what a limit allows by both demands: the day's feed, and a meal just eaten."""
        self._note(
            name, "{factor:g} kg of oxygen for a kilogram of the table's ration", "from memory",
            factor=OXYGEN_PER_FEED,
        )  # fmt: skip
        says = "Within 6 h of a meal they use more, as for minutes of air: what allows less counts"
        self._note(name, says, "Pirozzi & Booth 2009; half as much again fed, from memory")
        by_feed, just_fed = work(self._by_feed), work(self._just_fed)
        return lambda w: min(by_feed(w), just_fed(w))

    def _used(self, need: Kilograms, at: datetime) -> float:
        """Return what the fish used that were here when something was read."""
        here = (s for s in self.stocks if s.weight_g > 0)
        return math.fsum(self._kg_at(s, at) * need(s.weight_g) for s in here)

    def _kg_at(self, stock: Stock, at: datetime) -> float:
        """Return the mass of a lot here at an instant; fish moved since are put back."""
        if stock.stocked_at <= at and (stock.handled_at is None or stock.handled_at <= at):
            return stock.biomass_kg
        kg = stock.biomass_kg
        for one in changes(self.farm.lots.get(stock.lot, ()), self.place.code):
            if at < one.at <= self.now and one.kind in _WAYS:
                moved_kg = one.count * stock.weight_g / 1000 if one.mass_kg is None else one.mass_kg
                kg += _WAYS[one.kind] * moved_kg
                self.moved_since = max(self.moved_since or one.at, one.at)
        return max(0.0, kg)

    def _note(self, name: str, says: str, source: str, **values: Value) -> None:
        self.reasons[name].append(Reason(says, values, source))

    def _flow_l_h(self, name: str) -> float:
        """Return the flow through the tank: as read, else as the site's file says."""
        read = self.farm.latest(self.place.code, "flow", self.now)
        if read is not None and self.now - read.at > FLOW_LASTS:
            when = long_day(local_day(read.at, self.site.timezone))
            raise ValueError(f"flow of {self.place.code} was read on {when}")
        flow = read.value if read is not None else self.place.flow_m3_h
        if flow is None:
            raise ValueError(f"flow of {self.place.code} is not known")
        if flow <= 0:
            raise ValueError(f"flow of {self.place.code} was read as 0: no water comes in")
        source = "site.toml"
        if read is not None:
            source = f"read {long_day(local_day(read.at, self.site.timezone))}"
        self._note(name, "Flow {flow:.1f}", source, flow=Amount(flow, "m^3/h"))
        return flow * 1000

    def _edge(self, measure: str, side: str, unit: str) -> float | None:
        limits = self.site.limits_at(measure, self.place, self.now)
        value = getattr(limits, side) if limits is not None else None
        return None if value is None else convert(value, MEASURES[measure].unit, unit)

    def _oxygen(self) -> Kilograms | str:
        inputs = Inputs(self.farm, self.place, self.now)
        salinity, warm_c = inputs.take("salinity"), self.temperature_c
        coming_in = inputs.find("oxygen_in")
        if salinity is None or warm_c is None:
            return "; ".join(inputs.missing)
        pressure_hpa = inputs.pressure_hpa()

        def mg_l(percent: float) -> float:
            return from_percent_mg_l(percent, warm_c, salinity, pressure_hpa)

        floor, share = (
            self._edge(m, "target_low", u) for m, u in zip(OXYGEN, ("mg/L", "%"), strict=True)
        )
        if floor is None and share is None:
            return f"no oxygen limit is set for {self.place.code}"
        least = max(floor or 0.0, mg_l(share) if share is not None else 0.0)
        flow = self._flow_l_h("oxygen")
        self._note("oxygen", "Least wanted {least:.2f}", "limits here", least=Amount(least, "mg/L"))
        if coming_in is not None and coming_in.place == self.place.code:
            brought = Amount(coming_in.value, "mg/L")
            self._note("oxygen", "Coming in with {brought:.1f}", "reading", brought=brought)
            return self._least(
                "oxygen",
                lambda need: lambda w: of_fish.by_oxygen_kg(flow, brought.value, least, need(w)),
            )
        reads = [
            (read.value if measure == "oxygen" else mg_l(read.value), read.at)
            for measure in OXYGEN
            for read in self.farm.between(self.place.code, measure, self.now - DAY, self.now)
        ]
        if not reads:
            return "Oxygen not read here since yesterday: measure it, in an empty tank too"

        def by(need: Kilograms) -> Kilograms:
            loads = [(low, self._used(need, at)) for low, at in reads]
            low, used = min(loads, key=lambda one: one[1] + flow * one[0])
            says = "Lowest of 24 h {low:.1f}, with fish that used {used:.0f} mg/h {when}"
            values: dict[str, Value] = {"low": Amount(low, "mg/L"), "used": used}
            self._note("oxygen", says, "reading", **values, when=_WHEN[need == self._just_fed])

            def allowed(weight_g: float) -> float:
                each = need(weight_g)
                more = of_fish.by_oxygen_kg(flow, low, least, each)
                return used / each + more - of_fish.by_oxygen_kg(flow, least, low, each)

            return allowed

        return self._least("oxygen", by)

    def _tan_g_kg(self, name: str, place: Place) -> Kilograms:
        """Return the ammonia nitrogen of a kilogram of fish in a place, g/day by mean weight."""
        product = self.site.products.get(place.feed or "")
        species, warm_c = self.site.species_of(place), self.temperature_c
        if product is None or product.protein is None or species is None or warm_c is None:
            raise ValueError(f"protein of the feed of {place.code} is not set in site.toml")
        protein = product.protein
        says = "{code}: feed with {protein:.0%} protein"
        self._note(name, says, "TAN by Timmons & Ebeling, from memory", code=place.code,
                   protein=protein)  # fmt: skip
        return lambda w: tan_production_g_day(_rate(species, w, warm_c) / 100, protein)

    def _ammonia(self) -> Kilograms | str:
        inputs = Inputs(self.farm, self.place, self.now)
        tan, ph, salinity = (inputs.take(one) for one in ("tan", "ph", "salinity"))
        most = self._edge("ammonia", "target_high", "mg/L")
        if tan is None or ph is None or salinity is None or self.temperature_c is None:
            return "; ".join(inputs.missing)
        if most is None:
            return f"no limit of NH3-N is set for {self.place.code}"
        part = un_ionised(1.0, self.temperature_c, salinity, ph, self.site.ph_buffers)
        rise = min(most / part.cautious_mg_l, 100) - tan
        flow, each = self._flow_l_h("ammonia"), self._tan_g_kg("ammonia", self.place)
        read = inputs.find("tan")
        used = self._used(each, read.at if read is not None else self.now)
        self._note(
            "ammonia",
            "TAN {tan:.2f} now; {most:.3f} NH3-N stands at TAN {limit:.2f} with this pH",
            "cautious value", tan=Amount(tan, "mg/L"), most=Amount(most, "mg/L"), limit=rise + tan,
        )  # fmt: skip
        return lambda w: (used + flow * 24 * rise / 1000) / each(w)

    def _co2(self) -> Kilograms | str:
        found = next(
            one
            for one in derived(self.site, self.farm, self.place, self.now)
            if one.measure == "co2"
        )
        most = self._edge("co2", "target_high", "mg/L")
        if found.value is None or found.doubtful:
            return found.doubtful or "; ".join(found.missing)
        if most is None:
            return f"no limit of CO2 is set for {self.place.code}"
        now_mg_l, flow = found.value, self._flow_l_h("carbon dioxide")
        says = "CO2 {now:.1f} now, {most:.1f} at most; stripping in the tank is not counted"
        self._note("carbon dioxide", says, "worked out from pH and alkalinity",
                   now=Amount(now_mg_l, "mg/L"), most=Amount(most, "mg/L"))  # fmt: skip

        def by(need: Kilograms) -> Kilograms:
            used = self._used(need, found.at or self.now)

            def allowed(weight_g: float) -> float:
                each = need(weight_g)
                more = of_fish.by_carbon_dioxide_kg(flow, now_mg_l, most, each)
                return used / each + more - of_fish.by_carbon_dioxide_kg(flow, most, now_mg_l, each)

            return allowed

        return self._least("carbon dioxide", by)

    def _filter(self) -> Kilograms | str:
        loop = self.place.loop
        filters = [
            (place.code, place.area_m2 * place.tan_removal_g_m2_day)
            for place in self.site.places_of(loop or "")
            if place.area_m2 and place.tan_removal_g_m2_day
            and self.farm.state_of(place.code) == "in service"
        ]  # fmt: skip
        if not loop or not filters:
            return (
                f"what the filters of loop {loop} remove: measure the fall of TAN times flow over "
                "their area, put tan_removal into site.toml"
            )
        for code, grams in filters:
            says = "{code} removes {grams:.1f} g of N a day"
            self._note("filter", says, "site.toml, as measured", code=code, grams=grams)
        left_g = math.fsum(grams for _, grams in filters)
        for place in self.site.places_of(loop):
            if place.code == self.place.code or place.stage == "larval":
                continue
            for stock in self.farm.stocks.get(place.code, ()):
                made_g = stock.biomass_kg * self._tan_g_kg("filter", place)(stock.weight_g)
                says = "{code} on the same loop makes {made:.1f} g of N a day"
                self._note("filter", says, "table ration", code=place.code, made=made_g)
                left_g -= made_g
        each = self._tan_g_kg("filter", self.place)
        return lambda w: left_g / each(w)

    def _space(self) -> Kilograms | str:
        most, source = self.site.density_for(self.place)
        volume_m3 = water_m3(self.place, self.farm.now.states)
        if most is None:
            return f"no density limit is set for {self.place.code}: put it into site.toml"
        if volume_m3 is None:
            return f"volume of {self.place.code}: measure it and put it into site.toml"
        kg = of_fish.biomass_at_density_kg(volume_m3, most)
        self._note("space", "{volume:.2f} at most {most:g} kg/m3", source,
                   volume=Amount(volume_m3, "m^3"), most=most)  # fmt: skip
        return lambda w: kg


def _rate(species: Species, weight_g: float, temperature_c: float) -> float:
    return table.rate(species.table, weight_g, temperature_c).percent_day
