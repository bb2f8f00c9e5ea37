"""The site as typed, frozen models. `loading` reads and checks the files; nothing here does."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time
from pathlib import Path
from typing import Final, Literal
from zoneinfo import ZoneInfo

from msgspec import Struct, field

from rounds.address import Address
from rounds.fish.ration import RationTable

Kind = Literal["tank", "filter", "tray", "pond", "culture", "store", "house"]
Stage = Literal["larval", "nursery", "grow-out", "quarantine", "holding"]
Food = Literal["rotifers", "nauplii", "algae"]
Answer = Literal["number", "count", "yes-no", "choice", "text"]
ProductKind = Literal["feed", "live feed", "forage", "alkali", "salt", "dechlorinator"]

KINDS: Final[tuple[Kind, ...]] = ("house", "store", "culture", "tank", "filter", "tray", "pond")
TEST_POINT: Final = "test point"
"""In `visits`: the places where each loop's water is tested."""
STAGES: Final[tuple[Stage, ...]] = ("larval", "nursery", "grow-out", "quarantine", "holding")
HELD: Final[tuple[Food, ...]] = ("rotifers", "nauplii", "algae")
"""What a culture `holds`, and in `visits` the cultures that hold it."""


class Limits(Struct, frozen=True):
    """The target band and the act band of one measure, in its unit; None is open on that side.

    A value inside the target band is ok; outside the act band it is act; between, watch.
    `hours` narrows the limits to a part of the site-local day; `do` says what to do, in one
    sentence each for watch and act.
    """

    measure: str
    target_low: float | None = None
    target_high: float | None = None
    act_low: float | None = None
    act_high: float | None = None
    hours: tuple[time, time] | None = None
    do_watch: str = ""
    do_act: str = ""
    source: str = "common practice"


class Weaning(Struct, frozen=True):
    """A food of larvae, and from which to which day after hatch it is given."""

    food: str
    from_day: int
    to_day: int
    source: str


class Screen(Struct, frozen=True):
    """The mesh of the outlet screen, um, and from which to which day after hatch it is in."""

    mesh_um: float
    from_day: int
    to_day: int
    source: str


class SwimBladder(Struct, frozen=True):
    """From which to which day after hatch larvae fill the swim bladder: the surface is skimmed."""

    from_day: int
    to_day: int
    source: str


_USUAL_SHAPE: Final = (0.01, 3.0)
"""a and b of a fish as long and heavy as most, g and cm (common practice)."""


class Species(Struct, frozen=True):
    """A species profile: what its fish tolerate, eat and become. Every value has its source."""

    code: str
    name: str
    latin: str
    feeding_low_c: float
    optimum_low_c: float
    optimum_high_c: float
    upper_limit_c: float
    fcr: float
    market_weight_g: float
    table: RationTable
    meals: tuple[tuple[float, int], ...]
    """(up to this mean weight in g, meals a day), rising; the last one holds above it too."""
    limits: Mapping[Stage | Literal["any"], tuple[Limits, ...]]
    length_weight: tuple[float, float] | None = None
    density_kg_m3: Mapping[Stage | Literal["any"], float] = field(default_factory=dict)
    """Most fish wanted in a cubic metre, by stage."""
    sources: Mapping[str, str] = field(default_factory=dict)
    weaning: tuple[Weaning, ...] = ()
    screens: tuple[Screen, ...] = ()
    swim_bladder: SwimBladder | None = None
    energy_budget: Literal["", "gilthead"] = ""
    """Whose coefficients give the ration by an energy budget; empty where none are known."""

    def length_cm(self, weight_g: float) -> float:
        """Return the length of a fish of a weight, cm; by a usual shape where none is known."""
        a, b = self.length_weight or _USUAL_SHAPE
        return float((weight_g / a) ** (1 / b))


class Product(Struct, frozen=True):
    """Something weighed out: a feed, an alkali, a salt. Fractions are 0 to 1."""

    code: str
    name: str
    kind: ProductKind
    formula: str | None = None
    """Of an alkali: NaHCO3, Na2CO3 ...; of a dechlorinator."""
    purity: float | None = None
    dissolved_fraction: float | None = None
    protein: float | None = None
    dry_matter: float | None = None
    pellet_mm: float | None = None
    energy_kj_g: float | None = None
    """Digestible energy of a feed."""
    for_weights_g: tuple[float, float] | None = None
    caution: str = ""


class Person(Struct, frozen=True):
    """Somebody who writes entries; `code` is what `--by` takes."""

    code: str
    name: str
    role: str
    phone: str = ""


class Valve(Struct, frozen=True):
    """A valve, switch or spare an emergency card points to, and the cards it stands on."""

    code: str
    where: str
    does: str
    cards: tuple[str, ...] = ()


class Loop(Struct, frozen=True):
    """Places that share one body of water. Doses are for loops."""

    code: str
    name: str
    sump_volume_m3: float
    alkalinity_target_mg_l: float
    salinity_target: float
    alkalinity_daily_rise_mg_l: float = 20.0
    alkali: str | None = None
    """Code of the product this loop is dosed with first."""
    salt: str | None = None
    inhabited: bool = True


class ForagePond(Struct, frozen=True):
    """What a pond of forage fish bears, and the rules of taking from it."""

    r_per_yr: float | None = None
    """Growth rate of the stock."""
    k_kg: float | None = None
    """What the pond carries where nothing is taken."""
    breeding_c: float = 20.0
    """Colder, its fish do not breed and none are taken (common practice)."""
    hold_days: float = 28.0
    """A crop waits so long before it is fed: 14 to 28 days, the longest where nobody says."""
    permit: str = ""
    permit_until: date | None = None
    source: str = "common practice"
    """Where the figures come from."""


class Place(Struct, frozen=True):
    """What a round stops at, in walking order (clean to dirty)."""

    code: str
    name: str
    kind: Kind
    zone: int
    """0 is cleanest; going back to a lower zone shows wash and dip."""
    loop: str | None = None
    stage: Stage | None = None
    species: str | None = None
    volume_m3: float | None = None
    flow_m3_h: float | None = None
    area_m2: float | None = None
    feed: str | None = None
    """Code of the product fed here."""
    test_point: bool = False
    """Its loop's water is tested here; each loop has at least one."""
    density_kg_m3: float | None = None
    """Most fish wanted in a cubic metre here, in place of the species'."""
    tan_removal_g_m2_day: float | None = None
    """Of a filter or tray, as measured: fall of TAN times flow over its area, g N."""
    aeration_per_h: float | None = None
    """What its aeration transfers (KLa), as measured."""
    forage: ForagePond = ForagePond()
    """Of a pond."""
    holds: Food | None = None
    """Of a culture; None where its site does not say: it is asked what any culture is asked."""
    limits: tuple[Limits, ...] = ()
    note: str = ""

    @property
    def wet(self) -> bool:
        """Whether it holds water of the farm: all but the house and the store do."""
        return self.kind not in ("house", "store")


class Check(Struct, frozen=True):
    """What a step that checks a meter is about: the number typed is its slope or its offset."""

    measure: str
    finds: Literal["slope", "offset"]
    good: tuple[float, float]
    """From and to which the meter is good: percent of a slope, an offset in the measure's unit."""
    points: tuple[str, ...] = ()
    instrument: str = ""


class Step(Struct, frozen=True):
    """One question of a checklist."""

    code: str
    ask: str
    answer: Answer
    stop_pass: int = 1
    measure: str | None = None
    unit: str | None = None
    choices: tuple[str, ...] = ()
    watch_if: tuple[str, ...] = ()
    act_if: tuple[str, ...] = ()
    do: str = ""
    """What to do when the answer is in watch_if or act_if."""
    how: str = ""
    why: str = ""
    caution: str = ""
    required: bool = True
    due: str | None = None
    """A rhythm of its own ("Mon Wed Fri"), else the checklist's."""
    visits: tuple[str, ...] = ()
    """Kinds, stages, place codes or "test point"; empty means all the checklist visits."""
    check: Check | None = None
    """It checks a meter: the answer is kept as a calibration, not as a reading."""


class Checklist(Struct, frozen=True):
    """A round's questions: which places it visits, when it is due, its steps."""

    code: str
    title: str
    visits: tuple[str, ...]
    due: str
    window: str
    steps: tuple[Step, ...]
    source: str = "shipped"

    @property
    def passes(self) -> tuple[int, ...]:
        """The pass numbers that occur, rising."""
        return tuple(sorted({step.stop_pass for step in self.steps}))


class SyncAddress(Struct, frozen=True):
    """Where the laptops of a site meet; `every_min` minutes apart the app looks there."""

    name: str
    address: Address
    every_min: float = 15.0


class Site(Struct, frozen=True):
    """One farm, as its files describe it."""

    folder: Path
    id: str
    name: str
    timezone: ZoneInfo
    latitude: float
    longitude: float
    elevation_m: float
    ph_buffers: Literal["nbs", "total"]
    display_units: Literal["metric", "us"]
    emergency: tuple[str, ...]
    digest: str
    """SHA-256 of the site's files, 16 hex digits: which version of them this laptop works with."""
    notice: str = ""
    """Shown on the board, such as "Invented farm, invented data"."""
    loops: Mapping[str, Loop] = field(default_factory=dict)
    places: Mapping[str, Place] = field(default_factory=dict)
    people: Mapping[str, Person] = field(default_factory=dict)
    products: Mapping[str, Product] = field(default_factory=dict)
    species: Mapping[str, Species] = field(default_factory=dict)
    limits: tuple[Limits, ...] = ()
    """The site's own limits, before any species' or place's."""
    checklists: Mapping[str, Checklist] = field(default_factory=dict)
    valves: tuple[Valve, ...] = ()
    skip_reasons: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()
    """Causes of death offered when the dead are counted."""
    sync: tuple[SyncAddress, ...] = ()

    def places_of(self, loop: str) -> tuple[Place, ...]:
        """Return the places that share this loop's water, in walking order."""
        return tuple(place for place in self.places.values() if place.loop == loop)

    def species_of(self, place: Place) -> Species | None:
        """Return the profile of the species kept in a place, or None where none is named."""
        return self.species.get(place.species) if place.species else None

    def density_for(self, place: Place) -> tuple[float | None, str]:
        """Return the most fish wanted in a place, kg/m3, and who says so; None where not set."""
        species = self.species_of(place)
        if place.density_kg_m3 is not None:
            return place.density_kg_m3, "this site"
        if species is None or place.stage is None:
            return None, ""
        found = species.density_kg_m3.get(place.stage, species.density_kg_m3.get("any"))
        return found, species.sources.get("density", "")

    def limits_at(self, measure: str, place: Place, at: datetime) -> Limits | None:
        """Return the limits that govern a measure in a place at an instant."""
        return self.limits_for(measure, place, at.astimezone(self.timezone).time())

    def limits_for(self, measure: str, place: Place, at: time) -> Limits | None:
        """Return the limits that govern a measure in a place at an hour of the site's day.

        The place's own come first, then the species' for its stage, the species' for any stage,
        the site's; among those of one rank, limits with hours that hold `at` come before others.
        """
        species = self.species_of(place)
        ranks: list[tuple[Limits, ...]] = [place.limits]
        if species is not None:
            if place.stage is not None:
                ranks.append(species.limits.get(place.stage, ()))
            ranks.append(species.limits.get("any", ()))
        ranks.append(self.limits)
        for rank in ranks:
            of_measure = [limits for limits in rank if limits.measure == measure]
            for limits in sorted(of_measure, key=lambda limits: limits.hours is None):
                if limits.hours is None or _within(at, limits.hours):
                    return limits
        return None


def _within(at: time, hours: tuple[time, time]) -> bool:
    low, high = hours
    return low <= at < high if low <= high else at >= low or at < high


def visited(place: Place, visits: tuple[str, ...]) -> bool:
    """Tell whether kinds, stages, foods, place codes and "test point" name this place."""
    held = HELD if place.holds is None and place.kind == "culture" else (place.holds,)
    return (
        place.kind in visits
        or place.code in visits
        or place.stage in visits
        or (place.test_point and TEST_POINT in visits)
        or any(food in visits for food in held)
    )
