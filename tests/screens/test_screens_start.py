"""What the app asks and says at its start, on every screen, in every window and colour."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from screens_hand import Clock, Hand, open_book, opened

from rounds.day.fold.farm import Farm, fold
from rounds.day.telling.board import Board, board
from rounds.records.entry import Died, Matter, Note, Reading, Stocked
from rounds.records.faults import untold
from rounds.screens.app import NOT_AN_ALARM
from rounds.screens.board import BoardPage
from rounds.site.cards import cards
from rounds.site.model import Site

HOSTILE = "[/ a[/b] [bold]x[@click=app.bell]z[/] \x1b[31m\x1b]0;t\x07 \u202egnp \x9b31m"


async def test_the_first_start_says_once_that_this_is_no_alarm(site: Site, clock: Clock) -> None:
    async with opened(site, clock, told=False) as hand:
        assert NOT_AN_ALARM[:30] in hand.text
        assert "Enter go on" in hand.lines("keys")
        await hand.press("enter")
        assert hand.label == "BOARD"
    async with opened(site, clock, told=False) as hand:
        assert hand.label == "BOARD"


async def test_who_is_writing_is_asked_once_and_cannot_be_passed_over(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock, by=None) as hand:
        assert "Who are you?" in hand.text
        await hand.press("escape", "9")
        assert "Who are you?" in hand.text
        await hand.press("2")
        assert hand.label == "BOARD"
        assert "Rui" in hand.lines("head")
        await hand.press("m")
        await hand.type("hum")
        await hand.press("enter")
        assert next(e for e in hand.entries() if isinstance(e, Note)).by == "rui"


async def test_the_cards_are_one_key_away_on_every_screen(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        for opening in ("", "enter", "r", "d", "o", "y", "h", "m", "w"):
            await hand.press(*([opening] if opening else []))
            before = hand.label
            for key in ("x", "exclamation_mark"):
                if (opening, key) == ("m", "x"):
                    continue  # a letter belongs to the line of words; ! opens the cards there too
                await hand.press(key)
                assert hand.label == "EMERGENCY", (opening, key)
                assert all(card.title in hand.text for card in cards(stocked))
                await hand.press("escape")
                assert hand.label == before
            await hand.press("exclamation_mark", "3")
            assert "Oxygen or air into that tank now" in hand.text
            await hand.press("escape", "escape")
            assert hand.label == before
            if opening:
                await hand.press("escape")


async def test_a_card_shows_the_sites_own_numbers(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("x", "3")
        assert "Act below 4 mg/L: A1 A2 Q1" in hand.text
        assert "Supervisor: 101" in hand.text


async def test_a_small_window_says_so_and_keeps_what_was_typed(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock, size=(50, 12)) as hand:
        shown = hand.app.screen.query_one("#small")
        assert shown.display
        assert "window too small, 60x16 needed" in hand.lines("small")
    async with opened(stocked, clock) as hand:
        assert not hand.app.screen.query_one("#small").display


@pytest.mark.parametrize("size", [(50, 30), (90, 12)])
async def test_in_a_window_too_small_no_key_does_anything_but_leave(
    stocked: Site, clock: Clock, size: tuple[int, int]
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter")
        before = hand.kinds()
        await hand.resize(*size)
        for key in ("1", "enter", "s", "x", "exclamation_mark", "m", "h", "t", "escape", "q"):
            await hand.press(key)
        assert hand.kinds() == before
        assert hand.label == "WALK"
        assert hand.app.theme == "sun"
        assert not hand.app._exit
        await hand.resize(80, 24)
        assert "Step 1 of" in hand.text
        await hand.press("1")
        await hand.type("6")
        await hand.resize(*size)
        await hand.press("8")
        await hand.resize(80, 24)
        assert "[ 6 " in hand.lines("body")
        await hand.resize(*size)
        await hand.press("ctrl+q")
        assert hand.app._exit


async def test_q_leaves_the_board_of_a_window_too_small(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock, size=(50, 12)) as hand:
        await hand.press("q")
        assert hand.app._exit


async def test_foreign_text_is_shown_as_text_on_every_screen(stocked: Site, clock: Clock) -> None:
    with open_book(stocked, clock) as book:
        book.append(Note(text=HOSTILE, place="A1", by=HOSTILE))
        book.append(Matter(text=HOSTILE, place="A1", owner=HOSTILE, until="", by=HOSTILE))
        book.append(Stocked(lot=HOSTILE, place="A1", count=5, mean_weight="9", unit="g", by="x"))
        book.append(Reading(measure="oxygen", value="3", unit="mg/L", place="A1", by=HOSTILE))
    async with opened(stocked, clock, by=HOSTILE, size=(120, 40)) as hand:
        assert "Who are you?" in hand.text
        await hand.press("1")
        for keys in (
            ("down",), ("enter", "w"), ("r", "w"), ("d", "w"), ("o",), ("y",), ("h",), ("j",),
            ("j", "a", "enter"), ("o", "n"), ("o", "e"),
        ):  # fmt: skip
            await hand.press(*keys)
            await hand.settle()
            for strip in hand.app.screen._compositor.render_strips():
                for segment in strip:
                    assert not any(ord(c) < 32 or 0x7F <= ord(c) < 0xA0 for c in segment.text)
                    assert "\u202e" not in segment.text
                    assert segment.style is None or not segment.style.meta.get("@click")
            while len(hand.app.screen_stack) > 1:
                await hand.press("escape")
        await hand.press("m")
        await hand.type("[/ a[/b] [bold]")
        await hand.press("enter")
        assert "[/ a[/b] [bold]" in hand.lines("telling")
        notes = [e.text for e in hand.entries() if isinstance(e, Note)]
        assert "[/ a[/b] [bold]" in notes


@pytest.mark.parametrize(
    ("key", "measure", "value", "before", "after"),
    [
        (None, "oxygen", "3.0", "7.90", "3.0X"),
        ("r", "oxygen", "3.0", "read oxygen first", "NO FEED"),
        ("d", "alkalinity", "70", "Alkalinity 90", "Alkalinity 70"),
    ],
)
async def test_another_programs_entry_changes_what_is_in_sight(
    stocked: Site, clock: Clock, key: str | None, measure: str, value: str, before: str, after: str
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press(*([key] if key else []))
        assert before in hand.text
        assert after not in hand.text
        unit = "mg/L CaCO3" if measure == "alkalinity" else "mg/L"
        with open_book(stocked, clock) as other:
            other.append(Reading(measure=measure, value=value, unit=unit, place="A1", by="rui"))
        await hand.app.listen()
        assert after in hand.text


async def test_a_day_of_another_laptop_is_folded_once(
    stocked: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    folded: list[int] = []

    def counted(*given: Any) -> Farm:
        farm = fold(*given)
        folded.append(farm.size)
        return farm

    async with opened(stocked, clock, size=(120, 40)) as hand:
        before = hand.app.desk.farm.size
        with open_book(stocked, clock) as other:
            for _ in range(3):
                other.append(Died(count=1, place="A1", lot="L1", by="rui"))
        monkeypatch.setattr("rounds.screens.desk.fold", counted)
        monkeypatch.setattr("rounds.day.fold.farm.fold", counted)
        await hand.app.listen()
        assert folded == [before + 4]
        assert "397" in hand.lines("places")


async def test_it_is_judged_again_when_the_book_or_the_minute_moves_on(
    stocked: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    judged: list[datetime] = []

    def counted(site: Site, farm: Farm, now: datetime, here: str, *, glance: bool = False) -> Board:
        judged.extend([] if glance else [now])
        return board(site, farm, now, here, glance=glance)

    monkeypatch.setattr("rounds.screens.board.board", counted)
    async with opened(stocked, clock) as hand:
        await hand.press("down", "down", "up")
        assert len(judged) == 1
        await hand.press("m", "a", "enter")
        assert len(judged) == 2
        clock.now += timedelta(minutes=1)
        hand.app.repaint()
        assert judged[2:] == [clock.now]


async def test_the_first_board_does_not_wait_for_the_rations_and_meters(
    stocked: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as later:
        later.setattr(BoardPage, "_look_closer", lambda _: None)
        async with opened(stocked, clock) as hand:
            whole = board(stocked, hand.app.desk.farm, clock.now)
            [first] = [row for row in hand.lines("places").splitlines() if " A1 " in row]
            assert "..." in first
    async with opened(stocked, clock) as hand:
        assert hand.app.board.board == whole
        assert "..." not in hand.lines("places")


@pytest.mark.parametrize("key", ["t", "T"])
async def test_the_colours_change_with_one_key(stocked: Site, clock: Clock, key: str) -> None:
    async with opened(stocked, clock) as hand:
        assert hand.app.theme == "sun"
        await hand.press(key)
        assert hand.app.theme == "night"
    async with opened(stocked, clock) as again:
        assert again.app.theme == "night"


async def test_a_bare_console_gets_black_white_and_their_reverse(
    stocked: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TERM", "linux")
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1", "3")
        styles = {
            (style.color and style.color.number, style.bgcolor and style.bgcolor.number)
            for strip in hand.app.screen._compositor.render_strips()
            for _, style, _ in strip
            if style
        }
    black, white, bright = 0, 7, 15
    assert {number for pair in styles for number in pair} <= {black, white, bright, None}
    assert (black, bright) in styles


async def test_without_colour_the_words_stand(
    stocked: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1", "3")
        assert "X ACT NOW" in hand.lines("body")
        await hand.press("t")
        styles = [
            (segment.text, segment.style)
            for strip in hand.app.screen._compositor.render_strips()
            for segment in strip
            if segment.style
        ]
    assert not [style for _, style in styles if style.color or style.bgcolor]
    filled = {text.strip() for text, style in styles if style.reverse}
    assert {"X ACT NOW", "WALK"} <= filled


async def _crashed(site: Site, clock: Clock) -> Hand:
    async def fault() -> None:
        async with opened(site, clock) as hand:
            hands.append(hand)
            await hand.press("t", "h", "escape")
            hand.app._handle_exception(RuntimeError("secret of the farm"))

    hands: list[Hand] = []
    with pytest.raises(RuntimeError, match="secret"):
        await fault()
    return hands[0]


async def test_a_fault_leaves_a_report_without_farm_data_and_the_next_start_tells(
    stocked: Site, clock: Clock, tmp_path: Path
) -> None:
    hand = await _crashed(stocked, clock)
    app = hand.app
    assert app.return_code == 1
    assert app.report is not None
    text = app.report.read_text()
    assert "secret" not in text
    assert "last actions: theme help close" in text
    assert "RuntimeError" in text
    assert app.report.stat().st_mode & 0o777 == 0o600
    assert len(app.last_words()) == 3
    async with opened(stocked, clock) as hand:
        assert "The last run ended by a fault" in hand.text
        assert app.report.name in hand.text.replace("\n", "").replace(" ", "")
    async with opened(stocked, clock) as hand:
        assert hand.label == "BOARD"
    assert untold(app.logs) is None


def test_a_start_loads_no_library_it_does_not_need(tmp_path: Path) -> None:
    tests = Path(__file__).parent
    code = f"""
import asyncio, sys
sys.path.insert(0, {str(tests)!r})
from pathlib import Path
from screens_hand import Clock, opened, small_site
async def main():
    async with opened(small_site(Path({str(tmp_path)!r})), Clock()) as hand:
        assert hand.label == "BOARD"
asyncio.run(main())
heavy = {{"pint", "markdown_it", "pygments", "fsspec", "filelock", "rounds.screens.walk"}}
print(sorted(heavy & set(sys.modules)))
"""
    # The hand itself needs pytest, which loads pygments: its place is taken by a stand-in.
    stub = "import sys, types; m = types.ModuleType('pytest'); m.fixture = lambda f: f; "
    stub += "m.MonkeyPatch = object; sys.modules['pytest'] = m\n"
    env = {**os.environ, "ROUNDS_STATE": str(tmp_path / "state")}
    done = subprocess.run(
        [sys.executable, "-c", stub + code], capture_output=True, text=True, env=env, check=False
    )
    assert done.stdout.strip() == "[]", done.stdout + done.stderr
