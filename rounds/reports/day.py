"""Today's sheet: the worst first, what is due, rations and doses, as plain text."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Final

from rounds.day.feeding import rations
from rounds.day.feeding.ration_words import unverified
from rounds.day.feeding.rations import Ration
from rounds.day.fold.farm import Farm
from rounds.day.loops import doses
from rounds.day.loops.doses import DoseLine, DoseSheet
from rounds.day.telling.handoff import matters
from rounds.day.when import clock
from rounds.reports.handoff import opened, standing
from rounds.reports.paper import Section, folded, text
from rounds.site.model import Site
from rounds.units import Amount, shown

NOT_AN_ALARM: Final = (
    "This is not an alarm: the independent oxygen and level alarm is the guard of the night."
)


def sheet(site: Site, farm: Farm, now: datetime, here: str = "", unread: int = 0) -> str:
    """Print today's sheet.

    Args:
        site: The site.
        farm: The farm.
        now: The present.
        here: The writer of this laptop; the others are told when they were last heard.
        unread: How many lines and files of the book could not be read or found.

    Returns:
        Text, 80 columns wide, ending in a line break.
    """
    document = matters(site, farm, now, "", here, unread)
    feeding = rations.today(site, farm, now)
    dosing = doses.today(site, farm, now, here)
    fed = [line for one in feeding for line in _ration(one)]
    on = f"{document.day:%A} {document.day.day} {document.day:%B %Y}"
    head = [f"Today, {site.name}, {on}, {clock(now, site.timezone)}"]
    head += [line for line in (document.clock, site.notice, document.unread) if line]
    sections = [
        Section("Worst place first", standing(document.places), "No place has been read today."),
        Section("To do", [f"{todo.text}; by {todo.until}" for todo in document.not_done]),
        Section("Rations", [*fed, *unverified(site, feeding)], "No fish."),
        Section("Doses", [line for one in dosing for line in _dose(one)], "No loop to dose."),
        Section("What to watch", document.watch),
        Section("Open matters", opened(document.matters)),
    ]
    if document.meters:
        sections.insert(-1, Section("Meters and water", document.meters))
    if document.unheard:
        sections.append(Section("Not heard", document.unheard))
    return text(head, sections) + f"\n{folded(NOT_AN_ALARM)}\n"


def _ration(ration: Ration) -> Iterator[str]:
    weight = shown(Amount(ration.biomass_kg, "kg"), ration.display)
    mass = f" = {weight:.1f}" if ration.biomass_kg >= 1 else ""
    fish = f"{ration.place}: {ration.count} x {ration.mean_weight_g:.3g} g{mass}"
    rate = "" if ration.rate_percent is None else f", {ration.rate_percent:.2f} %"
    held = f" ({ration.held_back})" if ration.held_back else ""
    if ration.no_feed:
        yield f"{fish}: NO FEED{held}"
    elif not ration.total_g:
        yield f"{fish}: 0 g{held}" if ration.meals else f"{fish}{held}"
    else:
        each = " + ".join(f"{meal.advised_g:g}" for meal in ration.meals)
        given = f", {ration.given_g:g} g given, {ration.left_g:g} g left" if ration.given_g else ""
        yield f"{fish}{rate}: {ration.total_g:g} g {ration.product} in {each}{given}{held}"
    for line in (*ration.missing, *ration.cautions):
        yield f"- {line}"


def _dose(sheet: DoseSheet) -> Iterator[str]:
    volume = sheet.water.volume_m3
    water = "" if volume is None else f", {shown(Amount(volume, 'm^3'), sheet.display):.2f} today"
    yield f"Loop {sheet.loop}{water}"
    said: set[str] = set()
    for line in sheet.lines:
        if line.portions and line.kind != "exchange":
            told = " ".join((*line.expected[:1], *line.cautions[:1]))
            again = line.kind in said
            yield (
                f"- or {_portions(line)}" if again else f"- {line.kind}: {_portions(line)}. {told}"
            )
            said.add(line.kind)
        elif line.refused and (why := " ".join(line.refused)) not in said:
            yield f"- {line.kind}: refused. {why}"
            said.add(why)
        elif line.expected and not line.portions:
            yield f"- {line.kind}: {' '.join(line.expected)}"
    for told in (*sheet.missing, *sheet.cautions):
        yield f"- {told}"


def _portions(line: DoseLine) -> str:
    if len(line.portions) == 1:
        return f"{line.amount:g} {line.unit} {line.name}"
    parts = " + ".join(f"{part:g}" for part in line.portions)
    return f"{line.amount:g} {line.unit} {line.name} in {parts}, {line.hours_between:g} h apart"
