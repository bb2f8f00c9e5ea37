"""`rounds transfer`: the sheet of a move of fish, and its entries once it balances."""

from __future__ import annotations

import argparse

from msgspec.structs import asdict

from rounds.cli import FINDINGS
from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened, place_code
from rounds.cli.out import say, why
from rounds.day.readings.judgement import SIGNS, Word
from rounds.day.recording.transfer import Sheet, account, entries, sheet, transfer
from rounds.day.recording.words import words
from rounds.day.slips import Unsure
from rounds.records.entry import Entry, Note

_HANDLED = "handling"
"""The cause of death in a transfer, where the site offers it."""


def run(asked: argparse.Namespace) -> int:
    """Print the sheet; with --keep, keep the entries of it."""
    with opened(asked, writes=asked.keep) as farm:
        site = farm.site
        into = [(place_code(site, code), load) for code, load in map(_target, asked.into)]
        wanted = transfer(
            farm.farm, place_code(site, asked.source), into, asked.lot, asked.out, asked.dead,
            asked.sampled,
        )  # fmt: skip
        made = sheet(site, farm.farm, wanted, farm.now)
        as_json = asked.json
        if not as_json:
            _show(farm, made)
        kept = _keep(farm, made, asked) if asked.keep else []
        if as_json:
            row = asdict(made)
            told = [words(one) for one in kept if not isinstance(one, Note)]
            farm.emit("transfer", [{**row, "account": account(made), "kept": told}])
    return 0 if made.balances or asked.keep else FINDINGS


def _target(text: str) -> tuple[str, str]:
    code, given, load = text.partition("=")
    if not given:
        raise Failure(f"{text} is not PLACE=FISH/MASS, such as G4=200/80")
    return code, load


def _show(farm: Opened, made: Sheet) -> None:
    say(f"TRANSFER of {made.lot} out of {made.source}  {_sign(made.verdict)}", "First:")
    for check in made.checks:
        say(f"  {_sign(check.verdict):<9} {check.line}.", hang=10)
    say("Account:", *(f"  {line[:1].upper()}{line[1:]}." for line in account(made)), hang=2)
    say(f"  Then {made.left} of {made.lot} are left in {made.source}.", hang=2)
    say(f"After: {made.after}.", hang=2)
    say("Why:")
    why(made.reasons, farm.site.display_units)


def _sign(word: Word) -> str:
    return "MEASURE" if word == "unknown" else SIGNS[word]


def _keep(farm: Opened, made: Sheet, asked: argparse.Namespace) -> list[Entry]:
    causes = farm.site.causes
    cause = asked.cause or (_HANDLED if _HANDLED in causes else "")
    try:
        drafts = entries(
            farm.farm,
            made,
            farm.now,
            named=asked.named,
            cause=cause,
            permit=asked.permit,
            confirmed=asked.confirm,
        )
    except Unsure as doubt:
        raise Failure(f"{doubt} If it is right, add --confirm") from None
    kept: list[Entry] = []
    for draft in drafts:
        try:
            kept.append(farm.write(draft))
        except Failure as error:
            left = "; ".join(words(one) for one in drafts[len(kept) :] if not isinstance(one, Note))
            done = "; ".join(words(one) for one in kept) or "nothing"
            raise Failure(f"{error} Kept: {done}. Record by itself: {left or 'a note'}") from None
        if not asked.json and not isinstance(draft, Note):
            say(f"Kept: {words(draft)}.", hang=2)
    return kept
