"""`rounds check`: reads the site's files and tells everything that is wrong, at once."""

from __future__ import annotations

import argparse

from msgspec.structs import asdict

from rounds.cli import FINDINGS
from rounds.cli.opened import site_folder
from rounds.cli.out import emit, say
from rounds.site.advice import advice
from rounds.site.loading import load
from rounds.site.reading import SiteErrors


def run(asked: argparse.Namespace) -> int:
    """Print every error of the site's files, or what the site holds."""
    folder = site_folder(asked)
    as_json = asked.json
    try:
        site = load(folder)
    except SiteErrors as error:
        if as_json:
            emit("check", [asdict(one) for one in error.problems])
            return FINDINGS
        for problem in error.problems:
            say(str(problem), hang=2)
        count = len(error.problems)
        say(f"{count} thing{'s' if count > 1 else ''} to put right in {folder}.")
        return FINDINGS
    if as_json:
        rows = [{"verdict": "watch", "says": says} for says in advice(site)]
        emit("check", rows, site)
        return 0
    parts = {
        "place": site.places, "loop": site.loops, "checklist": site.checklists,
        "product": site.products,
    }  # fmt: skip
    counts = (f"{len(part)} {name}{'s' * (len(part) != 1)}" for name, part in parts.items())
    say(f"{site.name}: {', '.join(counts)}. Nothing is wrong.")
    for says in advice(site):
        say(f"! WATCH {says}.", hang=2)
    say(*filter(None, [site.notice]))
    return 0
