"""`rounds larvae`: the live food of larval tanks, what cultures can give, and cysts to hatch."""

from __future__ import annotations

import argparse
from datetime import datetime, time, timedelta

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened, place_code
from rounds.cli.out import emit, say, why
from rounds.day import cultures, larvae
from rounds.day.cultures import Culture, Hatch
from rounds.day.larvae import Asked, Sheet
from rounds.day.when import spoken


def run(asked: argparse.Namespace) -> int:
    """Print the sheets of larval tanks and cultures, or of the one named."""
    typed = Asked(
        asked.food or "", _counts(asked.counts), asked.volume_ml, asked.dilution, asked.target,
        asked.culture, asked.hours, asked.day,
    )  # fmt: skip
    with opened(asked, writes=False) as farm:
        places = tuple(farm.site.places.values())
        if asked.place is not None:
            places = (farm.site.places[place_code(farm.site, asked.place)],)
        elif typed.counts:
            raise Failure("say which tank was counted: rounds larvae PLACE --counts '4 6 5'")
        args = farm.site, farm.farm
        sheets = [
            larvae.sheet(*args, place, farm.now, typed)
            for place in places
            if place.stage == "larval" and (asked.place or farm.farm.stocks.get(place.code))
        ]
        kept = [
            found
            for place in places
            if place.kind == "culture"
            and (found := cultures.culture(*args, place, farm.now, asked.left)) is not None
        ]
        if asked.place is not None and not sheets and not kept:
            raise Failure(f"{asked.place} is no larval tank, and no culture counted these days")
        hatch = _hatch(farm, asked)
        if getattr(asked, "json", False):
            rows = [*sheets, *kept, *([hatch] if hatch else [])]
            emit("larvae", farm.site.id, farm.now, rows, farm.site.display_units)
            return 0
        for one in sheets:
            _tank(farm, one)
        for two in kept:
            _culture(farm, two)
        if hatch is not None:
            _told(farm, hatch)
        if not sheets and not kept:
            say("No larvae and no counted culture on record.")
    return 0


def _counts(typed: str | None) -> tuple[int, ...]:
    try:
        found = tuple(int(part) for part in (typed or "").replace(",", " ").split())
    except ValueError:
        raise Failure(f"{typed} is not a row of counts, such as '4 6 5'") from None
    if any(count < 0 for count in found):
        raise Failure("a count is 0 or more")
    return found


def _hatch(farm: Opened, asked: argparse.Namespace) -> Hatch | None:
    if asked.wanted is None:
        return None
    if asked.nauplii is None or asked.nauplii_per_g is None:
        raise Failure("for a hatch give --nauplii and --nauplii-per-g, this cyst lot's own yield")
    zone = farm.site.timezone
    try:
        if len(asked.wanted) <= 5:
            at = datetime.combine(
                farm.now.astimezone(zone).date(), time.fromisoformat(asked.wanted), zone
            )
            at += timedelta(days=at <= farm.now)
        else:
            at = datetime.fromisoformat(asked.wanted)
            at = at if at.tzinfo else at.replace(tzinfo=zone)
    except ValueError:
        raise Failure(f"{asked.wanted} is no hour (08:00) and no date with one") from None
    return cultures.hatch(
        farm.site, at, asked.nauplii, asked.nauplii_per_g, farm.now, asked.enrich or 0.0
    )


def _tank(farm: Opened, one: Sheet) -> None:
    age = "" if one.days_after_hatch is None else f", day {one.days_after_hatch}"
    about = "about " if one.larvae_estimated else ""
    say(f"{one.place}  {about}{one.larvae} larvae{age}, {one.food}")
    if one.per_ml is not None:
        span = "" if one.low_per_ml is None else f" ({one.low_per_ml:.2f} to {one.high_per_ml:.2f})"
        say(f"  in the tank {one.per_ml:.2f} per mL{span}, target {one.target_per_ml or '-'}")
    for what, poured, rinsed in (
        ("to the target", one.add_culture_l, one.add_rinsed_l),
        ("until the next", one.add_culture_until_next_l, one.add_rinsed_until_next_l),
    ):
        if rinsed is not None:
            pour = "-" if poured is None else f"{poured:.1f} L"
            say(f"  {what}: pour in {pour} of culture, or {rinsed:.1f} L rinsed", hang=2)
    if one.eaten_until_next is not None:
        say(f"  eaten until the next top-up, at most: {one.eaten_until_next:.3g}")
    if one.survival is not None:
        grew = (
            ""
            if one.weight_start_g is None
            else f", {one.weight_start_g:.3g} to {one.weight_now_g:.3g} g"
        )
        say(f"  survival {one.survival * 100:.0f} %{grew}")
    for food in one.weaning:
        say(f"  day {food.from_day} to {food.to_day}: {food.food} ({food.source})", hang=2)
    _rest(farm, one)


def _culture(farm: Opened, one: Culture) -> None:
    say(f"{one.place}  {one.food} {one.per_ml:.4g} per mL")
    if one.harvest_fraction is not None:
        litres = "" if one.harvest_l is None else f", {one.harvest_l:.0f} L"
        say(f"  may be harvested: {one.harvest_fraction * 100:.0f} %{litres}")
    if one.egg_state:
        say(f"  eggs: {one.egg_state}")
    _rest(farm, one)


def _told(farm: Opened, hatch: Hatch) -> None:
    at, zone = farm.now, farm.site.timezone
    say(f"Hatch {hatch.cysts_g:.2f} g of cysts, start {spoken(hatch.start, at, zone)}")
    for text in hatch.cautions:
        say(f"  ! {text}", hang=2)
    why(hatch.reasons, farm.site.display_units)


def _rest(farm: Opened, one: Sheet | Culture) -> None:
    for text in one.missing:
        say(f"  measure: {text}", hang=2)
    for text in one.cautions:
        say(f"  ! {text}", hang=2)
    why(one.reasons, farm.site.display_units)
