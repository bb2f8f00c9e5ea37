"""The invented farm as it really is: its waters and fish, moved on by the clock, read by meters."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from random import Random
from typing import Final

from msgspec import Struct

from rounds.dosing.alkalis import dose_g_m3_per_mg_l
from rounds.sample.nature import LoopWater, swing
from rounds.sample.story import Lot, Story, Usual
from rounds.site.measures import MEASURES
from rounds.site.model import Place, Product, Site
from rounds.text import plain
from rounds.units import convert

TRUE_FCR: Final = 1.2
FASTED_H: Final = 8.0
WEATHER_C: Final = 0.25
"""How far a warm or a cold day moves the water."""
_LOOP_WATER: Final = ("tank", "filter", "tray")


class Fish(Struct):
    """The fish of a lot in a place, as nobody on the farm knows them."""

    lot: Lot
    count: float
    weight_g: float


class World:
    """The farm's hidden state. `now` moves on only by `advance`."""

    def __init__(
        self, site: Site, story: Story, begins: datetime, last: date, chance: Random
    ) -> None:
        self.site, self.story, self.last, self.chance = site, story, last, chance
        self.begins = self.now = begins
        self.fish = {lot.place: Fish(lot, lot.count, lot.weight_g) for lot in story.lots}
        self.fed_at: dict[str, datetime] = {}
        self.stopped: set[str] = set()
        """Places whose pump or filter stands still."""
        self.pressure_hpa = story.pressure_hpa
        self.weather_c = 0.0
        self.loops = {code: self._water(code) for code in site.loops}

    def _water(self, code: str) -> LoopWater:
        told = self.story.loops[code]
        loop = self.site.loops[code]
        volumes = [place.volume_m3 or 0.0 for place in self.site.places_of(code)]
        water = LoopWater(
            volume_m3=loop.sump_volume_m3 + sum(volumes),
            temperature_c=told.temperature_c,
            swing_c=told.swing_c,
            salinity=told.salinity,
            alkalinity_mg_l=told.alkalinity_mg_l,
            clearance_m3_h=told.clearance_m3_h,
            stripping_m3_h=told.stripping_m3_h,
            evaporation_m3_h=told.evaporation_m3_d / 24,
            returned=told.returned,
        )
        self._weigh(code, water)
        return water

    def _weigh(self, code: str, water: LoopWater) -> None:
        for place in self.site.places_of(code):
            if fish := self.fish.get(place.code):
                mass_kg = fish.count * fish.weight_g / 1000
                water.biomass[place.code] = (mass_kg, fish.weight_g)

    def advance(self, to: datetime) -> None:
        """Move all water on to an instant, in steps of an hour at most."""
        while self.now < to:
            step = min(timedelta(hours=1), to - self.now)
            hours = step / timedelta(hours=1)
            for code, water in self.loops.items():
                filters = {place.code for place in self.site.places_of(code)}
                water.advance(hours, not (filters & self.stopped))
            self.now += step

    def new_day(self) -> None:
        """Change the weather, let fish die that nobody sees why, and weigh what swims."""
        self.weather_c = 0.6 * self.weather_c + self.chance.gauss(0, WEATHER_C)
        pull = 0.8 * (self.pressure_hpa - self.story.pressure_hpa)
        self.pressure_hpa = self.story.pressure_hpa + pull + self.chance.gauss(0, 3)
        for code, water in self.loops.items():
            water.temperature_c = self.story.loops[code].temperature_c + self.weather_c
            self._weigh(code, water)

    def eat(self, place: Place, amount_g: float, protein: float) -> None:
        """Let the fish of a place eat: they grow by it, the water takes what they give off."""
        fish = self.fish[place.code]
        if fish.count > 0:
            fish.weight_g += amount_g / TRUE_FCR / fish.count
        if place.loop:
            self.loops[place.loop].feed(amount_g, protein)
        self.fed_at[place.code] = self.now

    def measured(self, place: Place, code: str, unit: str) -> str | None:
        """Return what a meter shows in a place, as it is typed in `unit`; None where none can."""
        true = self._true(place, code)
        if true is None:
            return None
        true = self._changed(place, code, true)
        info = MEASURES[code]
        shown = self.chance.gauss(true, info.accuracy_at(true) / 2)
        shown = min(
            max(shown, info.impossible_low, 0.0 if true >= 0 else shown), info.impossible_high
        )
        places = Decimal(1).scaleb(-info.decimals)
        return plain(Decimal(repr(convert(shown, info.unit, unit))).quantize(places))

    def _true(self, place: Place, code: str) -> float | None:
        told = self.story.usual.get(place.code, {}).get(code)
        if told is None and place.loop and place.kind in _LOOP_WATER:
            told_by_loop = self._in_loop(place, code)
            if told_by_loop is not None:
                return told_by_loop
        if code == "pressure":
            return self.pressure_hpa
        if code == "flow" and place.flow_m3_h:
            return 0.0 if place.code in self.stopped else place.flow_m3_h
        told = told or self.story.usual.get("everywhere", {}).get(code)
        return None if told is None else self._usual(told, code)

    def _changed(self, place: Place, code: str, true: float) -> float:
        for change in self.story.changes:
            if (change.place, change.measure) == (place.code, code):
                day = self.last + timedelta(days=change.day)
                begins = datetime.combine(day, time(), self.site.timezone)
                if (days := (self.now - begins) / timedelta(days=1)) >= 0:
                    true = max(0.0, change.times * true + change.plus + change.a_day * days)
        return true

    def _usual(self, told: Usual, code: str) -> float:
        days = (self.now - self.begins) / timedelta(days=1)
        warmer = self.weather_c if code in ("temperature", "air_temperature") else 0.0
        return told.value + told.a_day * days + told.swing * swing(self.hour) + warmer

    def _in_loop(self, place: Place, code: str) -> float | None:
        assert place.loop is not None  # noqa: S101 - the caller has looked
        water, flow = self.loops[place.loop], place.flow_m3_h or 5.0
        match code:
            case "temperature":
                return water.temperature_at(self.hour)
            case "salinity":
                return water.salinity
            case "oxygen":
                aeration = self.story.loops[place.loop].aeration_per_h * (place.volume_m3 or 1.0)
                return water.oxygen_mg_l(
                    place.code, self.hour, self._fasting(place), flow, aeration, self.pressure_hpa
                )
            case "ph":
                return water.ph(place.code, self.hour, self._fasting(place), flow)
            case "tan":
                return water.tan_mg_l
            case "nitrite":
                return water.nitrite_mg_l
            case "nitrate":
                return water.nitrate_mg_l
            case "alkalinity":
                return water.alkalinity_mg_l
        return None

    @property
    def hour(self) -> float:
        """The site's hour of the day."""
        local = self.now.astimezone(self.site.timezone)
        return local.hour + local.minute / 60

    def _fasting(self, place: Place) -> float:
        fed = self.fed_at.get(place.code)
        return FASTED_H if fed is None else (self.now - fed) / timedelta(hours=1)

    def pour(self, loop: str, product: Product, amount_g: float) -> None:
        """Let an alkali work in a loop's water."""
        if product.formula and product.purity:
            water = self.loops[loop]
            per_mg_l = dose_g_m3_per_mg_l(product.formula, product.purity)
            water.dose(amount_g / per_mg_l)
