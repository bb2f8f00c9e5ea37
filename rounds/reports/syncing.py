"""What an exchange did and how safe the days are, in sentences: on the screen and as printed."""

from __future__ import annotations

from collections.abc import Mapping

from rounds.day.laptops.site_files import Offer
from rounds.records.admission import Newcomer
from rounds.records.safety import Safe
from rounds.records.sync import SyncReport
from rounds.site.model import Person


def told(report: SyncReport) -> list[str]:
    """Return what an exchange did; "! " before what a person should look at."""
    refused = bool(report.set_aside or report.damaged or report.refused_before)
    less = refused or report.waiting > 0
    says = [f"Sent {report.sent}, fetched {report.fetched} files{'' if less else '. OK'}"]
    if report.renamed:
        says.append(
            "! This laptop was copied, or restored from an older copy: what the other one wrote is "
            "here now, and this one writes under a new name from its next start"
        )
    if report.waiting:
        says.append(f"{report.waiting} entries of programs still open travel once these are closed")
    says += [f"! {one.name} was not taken: {one.reason}" for one in report.set_aside]
    if report.refused_more:
        says.append(f"! {report.refused_more} more were not taken")
    if report.set_aside:
        says.append("Why the first were not taken is kept in records/aside, the bytes of some too")
    if report.refused_before:
        says.append(f"! {report.refused_before} files refused before lie there unchanged")
    if report.unseen:
        says.append("! Not all that lies there was looked at: sync again, it goes on from here")
    says += [
        f"! {one.name} is damaged here and does not lie whole there: sync with another address"
        for one in report.damaged
    ]
    if report.mended or report.healed:
        says.append(f"Damaged files replaced: {report.mended} there, {report.healed} here")
    if report.stays:
        says.append(f"! The site files of this laptop do not travel: {report.stays}")
    if report.strange:
        names = ", ".join(report.strangers)
        says.append(f"{report.strange} other names lie there and were left alone: {names}")
    if report.safe_to_remove:
        safe = "" if report.same_disk else ": it is safe to remove a stick"
        says.append(f"{'All else' if less else 'All'} is written and read back{safe}")
    if report.same_disk:
        says.append(
            "! It lies on the disk of the site itself, which is no second place: sync with a stick "
            "or a share too"
        )
    return says


def newcomer_told(new: Newcomer, people: Mapping[str, Person]) -> str:
    """Say who waits to be taken in."""
    by = ", ".join(people[code].name if code in people else code for code in new.by)
    return f"New laptop {new.writer}, {new.entries} entries, by {by or 'nobody named'}"


def offer_told(offer: Offer, people: Mapping[str, Person]) -> str:
    """Say whose other site files these are, since when, and which of the two are newer."""
    if not offer.writers:
        return f"Other site files {offer.digest[:6]}, kept here"
    by = f" ({people[offer.by].name if offer.by in people else offer.by})" if offer.by else ""
    who = f"laptop {', '.join(offer.writers)}{by}, {offer.since}"
    if offer.newer is False:
        return (
            f"Older site files {offer.digest[:6]}, {who}: this laptop's are newer, and a sync "
            "there offers them"
        )
    return f"{'Newer' if offer.newer else 'Other'} site files {offer.digest[:6]}, {who}"


def safe_told(one: Safe, names: Mapping[str, str]) -> str:
    """Say in how many places the entries of a day lie.

    Args:
        one: The day.
        names: Of addresses, where they have any.
    """
    count = len(one.places)
    where = ", ".join(names.get(place, place) for place in one.places)
    return f"{one.day}  safe in {count} place{'s' * (count > 1)}: {where}"
