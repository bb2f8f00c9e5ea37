"""Brine-shrimp cysts and enrichment: what each tin gives, when to start, until when to feed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from statistics import fmean
from typing import Final

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import HatchAt
from rounds.day.when import spoken
from rounds.fish import livefood
from rounds.reason import Reason, Reasons, Value
from rounds.site.model import Site

LAST_HATCHES: Final = 3
"""So many hatches of a tin give its yield (common practice)."""
_TOLD_FOR: Final = timedelta(hours=36)
_HOLDING: Final = (
    "24 h below 10 degC, lightly aerated, 8 million a litre at most: Artemia Reference Center, "
    "Ghent University, for new nauplii; 4 h warm from memory"
)


class CystLot(Struct, frozen=True):
    """One lot of cysts: what its hatches gave, newest last, against what the tin says."""

    cysts: str
    hatches: int
    last_per_g: float
    nauplii_per_g: float
    """Mean of the last three hatches: what a hatch is planned with."""
    nominal_per_g: float | None
    last_at: datetime
    cautions: tuple[str, ...]
    reasons: Reasons


class Hatch(Struct, frozen=True):
    """Brine-shrimp cysts to hatch for an hour: how many grams, and the times backwards from it."""

    wanted: datetime
    nauplii: float
    nauplii_per_g: float
    cysts_g: float
    start: datetime
    harvest: datetime
    enrich: datetime | None
    out: datetime | None
    """Out of the enrichment."""
    use_by_warm: datetime | None
    use_by_cold: datetime | None
    cautions: tuple[str, ...]
    reasons: Reasons


class Enrichment(Struct, frozen=True):
    """Live food to enrich for an hour: when it goes in, comes out, and until when it is good."""

    food: str
    wanted: datetime
    start: datetime
    out: datetime
    use_by_warm: datetime
    use_by_cold: datetime
    cautions: tuple[str, ...]
    reasons: Reasons


class Expiry(Struct, frozen=True):
    """Live food that was enriched: when it came out, and until when it may be fed."""

    place: str
    food: str
    out: datetime
    cold: bool
    use_by: datetime
    expired: bool
    says: str
    reasons: Reasons


def cyst_lots(farm: Farm, now: datetime) -> tuple[CystLot, ...]:
    """Return the lots of cysts hatched on record, the one last used first."""
    lots: dict[str, list[HatchAt]] = {}
    for one in farm.hatches:
        if one.at <= now:
            lots.setdefault(one.cysts, []).append(one)
    found = [_lot(name, hatches) for name, hatches in lots.items()]
    return tuple(sorted(found, key=lambda lot: lot.last_at, reverse=True))


def watch(site: Site, farm: Farm, now: datetime) -> tuple[str, ...]:
    """Return for the hand-off what is wrong with tins hatched lately, and what expires when."""
    lots = [lot for lot in cyst_lots(farm, now) if now - lot.last_at <= _TOLD_FOR]
    tins = tuple(text for lot in lots for text in lot.cautions)
    return (*tins, *(f"{one.place}: {one.says}." for one in expiries(site, farm, now)))


def _lot(name: str, hatches: Sequence[HatchAt]) -> CystLot:
    yields = [one.nauplii / one.grams for one in hatches]
    nominal = next((n for one in reversed(hatches) if (n := one.nominal_per_g)), None)
    last, mean = yields[-1], fmean(yields[-LAST_HATCHES:])
    cautions = []
    if livefood.poor_hatch(min(last, 400_000), yields[:-1]):
        cautions.append(
            f"{name} gave {last:.0f} nauplii a gram, 20 % or more under its own mean "
            f"{fmean(yields[:-1]):.0f}: look at temperature, light and salt of the hatch, keep "
            "the tin dry and cold, have another tin ready."
        )
    if nominal is not None and mean <= livefood.POOR_LOT * nominal:
        cautions.append(
            f"{name} gives {mean:.0f} a gram, the tin says {nominal:.0f}: set up more, or ask the "
            "seller."
        )
    says = "{name}: last {last:.0f} nauplii a gram, mean of {n} {mean:.0f}"
    values: dict[str, Value] = {
        "name": name,
        "last": last,
        "n": min(LAST_HATCHES, len(yields)),
        "mean": mean,
    }
    reasons = [Reason(says, values, "counted from the hatch; 20 % under its mean is told, common "
                      "practice")]  # fmt: skip
    if nominal is not None:
        reasons.append(Reason("the tin says {nominal:.0f} a gram", {"nominal": nominal}))
    return CystLot(
        name, len(yields), last, mean, nominal, hatches[-1].at, tuple(cautions), tuple(reasons)
    )


def hatch(
    site: Site,
    wanted: datetime,
    nauplii: float,
    nauplii_per_g: float | None,
    now: datetime,
    enrich_h: float = 0.0,
    lot: CystLot | None = None,
) -> Hatch:
    """Return the cysts to set up and the hours of a hatch, backwards from when it is wanted.

    Args:
        site: The site, for its clock.
        wanted: When the nauplii go into the tank.
        nauplii: How many.
        nauplii_per_g: Yield to plan with where this lot was not hatched here yet.
        now: The present, for the words.
        enrich_h: Hours in the enrichment; 0 for plain nauplii.
        lot: The lot of cysts, whose own measured yield is taken.

    Raises:
        ValueError: No yield is known, or a number is out of range.
    """
    each = nauplii_per_g if lot is None else lot.nauplii_per_g
    if each is None:
        raise ValueError(
            "no hatch is on record to plan with: give --nauplii-per-g, what the tin says"
        )
    grams = livefood.cysts_g(nauplii, each)
    plan = livefood.hatch_plan(wanted, enrich_h=enrich_h)
    zone = site.timezone
    whose = "measured of this lot" if lot else "as given, not measured here"
    reasons = [
        *(lot.reasons if lot else ()),
        Reason(
            "{n:.0f} nauplii / {each:.0f} a gram, {whose} = {grams:.2f} g of cysts",
            {"n": nauplii, "each": each, "whose": whose, "grams": grams},
            "definition",
        ),
        Reason(
            "wanted {wanted}: start {start}, harvest {harvest}",
            {
                "wanted": spoken(wanted, now, zone),
                "start": spoken(plan.start, now, zone),
                "harvest": spoken(plan.harvest, now, zone),
            },
            "24 h of hatching from memory; half an hour of rinsing, common practice",
        ),
    ]
    cautions = list(lot.cautions) if lot else []
    clock = None
    if plan.enrich is not None:
        clock = livefood.enrichment_clock(wanted, enrich_h)
        when = spoken(plan.enrich, now, zone)
        says = "enrichment from {when}, {hours:g} h, once their mouths are open"
        reasons.append(Reason(says, {"when": when, "hours": enrich_h}, "8 h, from memory"))
        reasons.append(_use_by(site, clock, now))
    if plan.start < now:
        ready = spoken(now + (wanted - plan.start), now, zone)
        cautions.append(
            f"It should have been started by now: started now it is ready {ready}; sooner only "
            "fewer hatch, or they are fed plain."
        )
    return Hatch(
        wanted=wanted,
        nauplii=nauplii,
        nauplii_per_g=each,
        cysts_g=grams,
        start=plan.start,
        harvest=plan.harvest,
        enrich=plan.enrich,
        out=clock.out if clock else None,
        use_by_warm=clock.use_by_warm if clock else None,
        use_by_cold=clock.use_by_cold if clock else None,
        cautions=tuple(cautions),
        reasons=tuple(reasons),
    )


def enrichment(
    site: Site, food: str, wanted: datetime, enrich_h: float, now: datetime
) -> Enrichment:
    """Return the hours of an enrichment, backwards from the feeding.

    Args:
        site: The site, for its clock.
        food: "rotifers" or "nauplii".
        wanted: When it goes into the tank.
        enrich_h: Hours in the enrichment, 1 to 36.
        now: The present, for the words.

    Raises:
        ValueError: A number is out of range.
    """
    clock = livefood.enrichment_clock(wanted, enrich_h)
    zone = site.timezone
    reasons = (
        Reason(
            "wanted {wanted}: {food} in at {start}, {hours:g} h, out and rinsed from {out}",
            {
                "wanted": spoken(wanted, now, zone), "food": food, "hours": enrich_h,
                "start": spoken(clock.start, now, zone), "out": spoken(clock.out, now, zone),
            },
            "half an hour of rinsing, common practice",
        ),
        _use_by(site, clock, now),
    )  # fmt: skip
    ready = spoken(now + (wanted - clock.start), now, zone)
    late = (
        f"It should be in the enrichment by now: put in now it is ready {ready}, or shorter, or "
        "fed plain.",
    )
    return Enrichment(
        food, wanted, clock.start, clock.out, clock.use_by_warm, clock.use_by_cold,
        late if clock.start < now else (), reasons,
    )  # fmt: skip


def _use_by(site: Site, clock: livefood.EnrichmentClock, now: datetime) -> Reason:
    warm, cold = (spoken(at, now, site.timezone) for at in (clock.use_by_warm, clock.use_by_cold))
    says = "fed by {warm}, or held cold by {cold}: they eat up what they were given"
    return Reason(says, {"warm": warm, "cold": cold}, _HOLDING)


def expiries(site: Site, farm: Farm, now: datetime) -> tuple[Expiry, ...]:
    """Return the live food enriched lately, and until when it may be fed, the newest first.

    Args:
        site: The site.
        farm: The farm.
        now: The present.

    Returns:
        Of the last day and a half; what has expired is said to be enriched anew.
    """
    found = []
    for one in reversed(farm.enriched):
        if not timedelta(0) <= now - one.at <= _TOLD_FOR:
            continue
        until = livefood.use_by(one.at, cold=one.cold)
        out, by = spoken(one.at, now, site.timezone), spoken(until, now, site.timezone)
        held = ", held cold" if one.cold else ""
        expired = now > until
        do = "do not feed it as enriched, enrich anew" if expired else f"feed it by {by}"
        says = f"{one.food} enriched, out {out}{held}: {do}"
        reason = Reason("out {out}{held}, good until {by}", {"out": out, "held": held, "by": by},
                        _HOLDING)  # fmt: skip
        found.append(Expiry(one.place, one.food, one.at, one.cold, until, expired, says, (reason,)))
    return tuple(found)
