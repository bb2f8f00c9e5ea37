"""What the site's files allow but a careful farm would not do: told by `rounds check`, no error."""

from __future__ import annotations

from rounds.site.model import Site


def advice(site: Site) -> tuple[str, ...]:
    """Return what to think over about a site, a sentence each.

    Args:
        site: A site that was read without an error.
    """
    found = []
    for place in site.places.values():
        if place.stage != "quarantine" or not place.loop:
            continue
        others = [
            other.code
            for other in site.places_of(place.loop)
            if other.kind == "tank" and other.stage != "quarantine"
        ]
        if others:
            says = f"{place.code} is quarantine on loop {place.loop}, the water of "
            says += f"{', '.join(others)}: what its fish carry reaches them. "
            found.append(f"{says}Give it a loop of its own, or isolate it")
    return tuple(found)
