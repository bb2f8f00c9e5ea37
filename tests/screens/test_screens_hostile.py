"""Hostile text in entries, on every screen: it changes nothing but its own cell."""

from __future__ import annotations

import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace
from rich.cells import cell_len
from screens_hand import NOW, Clock, open_book, opened
from screens_tour import tour

from rounds.records.entry import Died, Handoff, Matter, Note, Reading, Stocked
from rounds.screens.lines import Lines
from rounds.site.model import Site

PLAIN = "plain"
HOSTILE = (
    "[/ a[/b] [bold]x[@click=app.bell]z[/] \x1b[31m\x1b]0;t\x07 \u202egnp \x9b31m "
    "\U0001f41f\u200d\U0001f41f 漢字 e\u0301\u0301\u0301 "
) + "long " * 800
FIXED = ("head", "band", "due", "columns", "places", "table", "standing")
"""Rows of tables and edges: a text of any length stays in its cell there."""
_CELL = 30
"""Cells a lot, a name or a text may take of such a row."""


async def pictures(site: Site, clock: Clock, text: str) -> dict[str, dict[str, list[str]]]:
    """Every screen of a farm whose entries hold a text, as the rows of its parts."""
    clock.now, who = NOW - timedelta(minutes=20), text[:400]
    with open_book(site, clock) as book:
        book.append(Stocked(lot=text, place="A1", count=50, mean_weight="90", unit="g", by=who))
        book.append(Died(lot=text, place="A1", count=1, by=who))
        book.append(Note(text=text, place="A1", by=who))
        book.append(Matter(text=text, place="A1", owner=who, until=who, by=who))
        for measure, value in (("oxygen", "3"), ("ph", "8.6")):
            book.append(
                Reading(
                    measure=measure, value=value, unit="mg/L" if measure == "oxygen" else "pH",
                    place="A1", by=who, verdict="watch",
                )
            )  # fmt: skip
        book.append(Handoff(covers="2026-11-23T07:00:00.000Z", text=text, by=who))
    clock.now = NOW
    found: dict[str, dict[str, list[str]]] = {}
    async with opened(site, clock) as hand:
        async for name, rows in tour(hand):
            assert len(rows) == 24
            for strip in hand.app.screen._compositor.render_strips():
                assert strip.cell_length == 80, name
                for segment in strip:
                    assert not any(ord(c) < 32 or 0x7F <= ord(c) < 0xA0 for c in segment.text)
                    assert not {"\u202e", "\u200d"} & set(segment.text)
                    assert segment.style is None or not segment.style.meta.get("@click")
            found[name] = {
                str(lines.id): [row.plain for row in lines._seen if row.plain.strip()]
                for lines in hand.app.screen.query(Lines)
                if lines.id in FIXED
            }
    return found


@pytest.fixture
def other(stocked: Site, tmp_path: Path) -> Site:
    """The same site once more, with its own book."""
    return replace(stocked, folder=Path(shutil.copytree(stocked.folder, tmp_path / "other")))


async def test_hostile_text_changes_nothing_but_its_own_cell(
    stocked: Site, other: Site, clock: Clock
) -> None:
    plain = await pictures(stocked, clock, PLAIN)
    hostile = await pictures(other, clock, HOSTILE)
    assert plain.keys() == hostile.keys()
    for name, parts in plain.items():
        for part, rows in parts.items():
            told = hostile[name][part]
            assert len(told) == len(rows), (name, part)
            for before, after in zip(rows, told, strict=True):
                if part == "head":  # a sentence: what follows the text stands behind it, whole
                    kept = [word for word in before.split() if PLAIN not in word]
                    assert set(kept) <= set(after.split()), (name, before, after)
                else:
                    assert apart(before, after) <= _CELL, (name, part, before, after)


def apart(before: str, after: str) -> int:
    """Cells between what two rows have in common at their left and at their right."""
    if before.rstrip() == after.rstrip():
        return 0
    left = 0
    while left < min(len(before), len(after)) and before[left] == after[left]:
        left += 1
    right = 0
    most = min(len(before), len(after)) - left
    while right < most and before[-1 - right] == after[-1 - right]:
        right += 1
    return cell_len(after[left : len(after) - right])
