"""Each screen as it is seen, row by row, kept as text beside this test.

A change of wording or layout shows as a difference to read; `SEEN=write pytest tests/screens -k
seen` writes the files anew.
"""

from __future__ import annotations

import os
from difflib import unified_diff
from pathlib import Path

import pytest
from screens_hand import Clock, opened
from test_screens_keys import prepared

from rounds.site.model import Site

SEEN = Path(__file__).parent / "seen"
VIEWS = {
    "board": (),
    "walk": ("enter", "1", "4", ",", "9", "enter"),
    "ration": ("r",),
    "dose": ("d",),
    "handoff": ("o",),
    "card": ("x", "3"),
    "why": ("r", "w"),
    "trend": ("down", "v", "c", "1"),
    "growth": ("down", "v", "g"),
}


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
@pytest.mark.parametrize("view", VIEWS)
async def test_seen(
    stocked: Site,
    clock: Clock,
    view: str,
    size: tuple[int, int],
    request: pytest.FixtureRequest,
) -> None:
    await prepared(stocked, clock)
    if view == "trend":
        request.getfixturevalue("falling")
    async with opened(stocked, clock, size=size) as hand:
        await hand.press(*VIEWS[view])
        await hand.resize(*size)
        (laptop,) = hand.app.desk.farm.heard  # its code is drawn by lot
        rows = [
            strip.text.rstrip().replace(laptop, "laptop")
            for strip in hand.app.screen._compositor.render_strips()
        ]
    assert len(rows) == size[1]
    file = SEEN / f"{view}-{size[0]}x{size[1]}.txt"
    seen = "\n".join(rows) + "\n"
    if os.environ.get("SEEN") == "write":
        SEEN.mkdir(exist_ok=True)
        file.write_text(seen, "utf-8")
    kept = file.read_text("utf-8")
    assert seen == kept, "\n".join(unified_diff(kept.split("\n"), seen.split("\n"), lineterm=""))
