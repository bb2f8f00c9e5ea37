"""`rounds sync`: exchange entries with other laptops, take one in, retire one, adopt site files."""

from __future__ import annotations

import argparse
from collections.abc import Mapping

from msgspec import Struct

from rounds.cli import FINDINGS
from rounds.cli.failure import Failure
from rounds.cli.opened import opened, present, the_site, who
from rounds.cli.out import emit, say
from rounds.day.laptops.retiring import CannotRetire, enrolled, retired
from rounds.day.laptops.site_files import NotAdopted, Offer, addresses, adopt, exchange, offers
from rounds.day.when import spoken
from rounds.records.entry import instant
from rounds.records.reaching import NotThere, SyncFailed
from rounds.records.safety import safe
from rounds.records.sync import SyncReport, enrol
from rounds.reports.syncing import newcomer_told, offer_told, safe_told, told
from rounds.site.model import Site


class Done(Struct, frozen=True):
    """What became of one address."""

    name: str
    address: str
    failed: str
    report: SyncReport | None


def run(asked: argparse.Namespace) -> int:
    """Sync with one address or with all of the site, or decide what a sync has brought."""
    site = the_site(asked)
    if asked.enrol is not None:
        return _enrol(asked, site)
    if asked.retire is not None:
        return _retire(asked)
    if asked.adopt is not None:
        return _adopt(asked, site)
    known = {name: address for name, address, _ in addresses(site)}
    if asked.address is not None:
        return _one(asked, site, known.get(asked.address, asked.address))
    if not known:
        raise Failure("no address: name a folder or a URL, or write [[sync]] tables into site.toml")
    return _all(asked, site, known)


def _one(asked: argparse.Namespace, site: Site, address: str) -> int:
    try:
        report = exchange(site, address, by=who(asked, site))
    except SyncFailed as error:
        raise Failure(str(error)) from None
    if asked.json:
        emit("sync", [report], site)
    else:
        _tell(site, report)
        _aftermath(asked)
    return _outcome([report])


def _all(asked: argparse.Namespace, site: Site, known: Mapping[str, str]) -> int:
    done, by, as_json = [], who(asked, site), asked.json
    for name, address in known.items():
        try:
            done.append(Done(name, address, "", exchange(site, address, by=by)))
        except SyncFailed as error:
            if not as_json:
                says = "does not answer" if isinstance(error, NotThere) else str(error)
                say(f"{name}: {says}", hang=2)
            done.append(Done(name, address, str(error), None))
            continue
        if not as_json and done[-1].report is not None:
            say(f"{name}: {address}")
            _tell(site, done[-1].report)
    reports = [one.report for one in done if one.report is not None]
    if as_json:
        emit("sync", done, site)
    if not reports:
        raise Failure("no address answers: put the stick in, connect the share or the network")
    if not as_json:
        _aftermath(asked)
    return _outcome(reports)


def _outcome(reports: list[SyncReport]) -> int:
    found = any(one.set_aside or one.damaged or one.newcomers for one in reports)
    return FINDINGS if found else 0


def _tell(site: Site, report: SyncReport) -> None:
    for line in told(report):
        say(f"{line}.", hang=2)
    now = present()
    for writer, at in sorted(report.heard.items()):
        say(f"  laptop {writer}: newest entry {spoken(instant(at), now, site.timezone)}")
    for new in report.newcomers:
        asks = f"Take it in: rounds sync --enrol {new.writer}"
        say(f"{newcomer_told(new, site.people)}. {asks}", hang=2)


def _aftermath(asked: argparse.Namespace) -> None:
    """Say in how many places the last days lie, and whose site files differ."""
    with opened(asked, writes=False) as farm:
        site, retired = farm.site, farm.farm.retired
        for one in safe(site.folder, site.id, retired=retired):
            say(f"  {safe_told(one, {})}", hang=2)
        for offer in offers(site, farm.now, farm.here, retired):
            if offer.writers:
                _offer(site, offer)


def _offer(site: Site, offer: Offer, *, whole: bool = False) -> None:
    say(f"{offer_told(offer, site.people)}{'' if offer.newer is False else ':'}", hang=2)
    if offer.newer is False and not whole:
        return
    for change in offer.changes:
        say(f"  {change}", hang=4)
    for line in offer.lines if whole else ():
        say(f"    {line}", hang=6)
    if not offer.here:
        say("  they have not come yet: sync with an address where that laptop synced")
    elif whole:
        say(f"  take them over: rounds sync --adopt {offer.digest[:6]}")
    else:
        say("  see which lines, and take them over: rounds sync --adopt")


def _enrol(asked: argparse.Namespace, site: Site) -> int:
    writer, by = asked.enrol, who(asked, site)
    try:
        count = enrol(site.folder, site.id, writer)
    except (SyncFailed, ValueError) as error:
        raise Failure(str(error)) from None
    if by:  # else nobody is named, and the headers of the records tell
        with opened(asked, writes=True) as farm:
            farm.write(enrolled(farm.farm, writer))
    if asked.json:
        row = {"enrolled": writer, "files": count}
        emit("sync", [row], site)
    else:
        say(f"Laptop {writer} belongs to the site now: {count} files of entries came in.")
    return 0


def _retire(asked: argparse.Namespace) -> int:
    with opened(asked, writes=True) as farm:
        try:
            draft = retired(farm.farm, asked.retire, farm.here)
        except CannotRetire as error:
            raise Failure(str(error)) from None
        farm.write(draft)
        if asked.json:
            farm.emit("sync", [{"retired": draft.laptop}])
        else:
            say(
                f"Laptop {draft.laptop} is retired: its entries stay, nobody waits for it. Should "
                "it write again, it counts again.",
            )
    return 0


def _adopt(asked: argparse.Namespace, site: Site) -> int:
    digest = asked.adopt
    if not digest:
        with opened(asked, writes=False) as farm:
            found = offers(site, farm.now, farm.here, farm.farm.retired)
        if asked.json:
            emit("sync", found, site)
        elif not found:
            say("All laptops heard work with the site files of this one.")
        else:
            for offer in found:
                _offer(site, offer, whole=True)
        return 0
    try:
        told = adopt(site, digest)
    except NotAdopted as error:
        raise Failure(str(error)) from None
    if asked.json:
        emit("sync", [{"adopted": digest, "changes": told}], site)
    else:
        say("Taken over; the files before are kept. Leave the app and open it again.")
        for line in told:
            say(f"  {line}", hang=4)
    return 0
