"""What happens on an invented farm beside its rounds: done to the world, and drafted as entries."""

from __future__ import annotations

from datetime import timedelta
from typing import Literal

from rounds.records.entry import Counted, Entry, Incident, Matter, Note, Removed, State
from rounds.sample.story import Event
from rounds.sample.world import World


def happened(event: Event, world: World, by: str) -> Entry | None:
    """Let an event happen.

    Args:
        event: Any but those that need the day's sheets: doses, meals, matters settled.
        world: What it happens to.
        by: Who is on shift.

    Returns:
        What is written down; None where nobody has seen it.
    """
    place, loop, text = event.place, event.loop, event.text
    match event.what:
        case "note":
            return Note(place=place, loop=loop, text=text, about=event.about)
        case "matter":
            return Matter(
                place=place, loop=loop, text=text, owner=event.owner, until=event.until,
                again_if=event.again_if,
            )  # fmt: skip
        case "incident begins" | "incident ends":
            begins = event.what == "incident begins"
            (world.stopped.add if begins else world.stopped.discard)(place or "")
            said: Literal["began", "ended"] = "began" if begins else "ended"
            return Incident(place=place, about=event.about, event=said, text=text)
        case "state":
            return State(place=place, state=event.state)
        case "sale":
            fish = world.fish[place or ""]
            fish.count -= event.count
            return Removed(
                lot=fish.lot.lot, place=place, count=event.count, cause=text,
                mass=f"{event.count * fish.weight_g / 1000:.1f}", unit="kg",
            )  # fmt: skip
        case "gone":
            world.fish[place or ""].count -= event.count
        case "count":
            fish = world.fish[place or ""]
            found = round(fish.count) + world.chance.choice((0, 0, -1, 1))
            return Counted(lot=fish.lot.lot, place=place, count=found, method="all of them")
        case "fast":
            until = (world.now + timedelta(hours=event.count)).astimezone(world.site.timezone)
            return Matter(
                place=place, text=text or "for sale alive", owner=event.owner or by,
                until=f"{until:%Y-%m-%d %H:%M}", about="no feed",
            )  # fmt: skip
    return None
