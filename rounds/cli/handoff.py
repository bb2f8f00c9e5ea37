"""`rounds handoff`: the shift handed on, printed, signed, written as Markdown; or taken over."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from msgspec.structs import replace

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened
from rounds.cli.out import block, say
from rounds.day.laptops.site_files import differing
from rounds.day.telling import handoff
from rounds.day.telling.handoff import Document
from rounds.reports.handoff import render, write
from rounds.text import clean


def run(asked: argparse.Namespace) -> int:
    """Hand the shift on, take the last hand-off over, or only look at what would be handed on."""
    with opened(asked, writes=not asked.look) as farm:
        if asked.take:
            return _take(farm, asked.json)
        if asked.to and farm.site.people and asked.to not in farm.site.people:
            raise Failure(
                f"{asked.to} is not one of the site's people: {', '.join(farm.site.people)}"
            )
        document = replace(
            handoff.matters(
                farm.site,
                farm.farm,
                farm.now,
                farm.by,
                farm.here,
                farm.unread,
                differing(farm.site, farm.now, farm.here, farm.farm.retired),
            ),
            said=clean(asked.say, limit=1000, newlines=True),
            to=asked.to,
        )
        text = render(document)
        if not asked.json:
            block(text)
        if not asked.look:
            path = _sign(farm, document, text)
        if asked.json:
            farm.emit("handoff", [document])
        elif not asked.look:
            say("", f"Signed by {farm.by}. Kept in the book, and in {path}.")
    return 0


def _sign(farm: Opened, document: Document, text: str) -> Path:
    farm.write(handoff.handoff(document, text, document.to))
    try:
        path = write(farm.site.folder, document, render(document, "markdown"))
    except OSError as error:
        raise Failure(
            "signed and kept in the book, do not sign again; its file could not be written: "
            f"{error.strerror}"
        ) from None
    return path.relative_to(farm.site.folder)


def _take(farm: Opened, as_json: bool) -> int:
    handed = [one for one in farm.farm.handoffs if one.at <= farm.now]
    if not handed:
        raise Failure("nothing has been handed on yet")
    last = handed[-1]
    draft = handoff.takeover(last, farm.by)  # refused before anybody reads it
    if not as_json:
        block(last.text)
        say("")
    seen = [one.id for one in farm.farm.matters if as_json or _seen(one.text)]
    entry = farm.write(replace(draft, seen=seen))
    if as_json:
        row = {"of": last.id, "by": farm.by, "seen": seen, "id": entry.id}
        farm.emit("handoff", [row])
        return 0
    unseen = len(farm.farm.matters) - len(seen)
    say(f"Taken over by {farm.by}.", *([f"{unseen} open matters stay unseen."] if unseen else []))
    return 0


def _seen(text: str) -> bool:
    """Print an open matter; on a terminal ask whether it was seen, else printed is seen."""
    say(f"Open: {text}", hang=2)
    if not sys.stdin.isatty():
        return True
    sys.stdout.write("  Enter: seen; n: not yet > ")
    sys.stdout.flush()
    return sys.stdin.readline().strip().lower() not in ("n", "no")
