"""The board: nothing cut without a word, rounds that are not due asked about, minutes of air."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from msgspec.structs import replace
from screens_hand import Clock, Hand, of_kind, open_book, opened

from rounds.day.telling.board import Board, board
from rounds.records.entry import Reading, Walk
from rounds.site.model import Site

DO = "Aerate now, stop feeding, call the supervisor."


@pytest.fixture
def bad(stocked: Site, clock: Clock) -> Site:
    """Every place to act on, with more to say than two rows hold."""
    with open_book(stocked, clock) as book:
        for code in stocked.places:
            for measure, value, unit in (("oxygen", "3.0", "mg/L"), ("ph", "6.5", "pH")):
                book.append(
                    Reading(
                        measure=measure, value=value, unit=unit, place=code, by="rui",
                        verdict="act",
                    )
                )  # fmt: skip
    return replace(stocked, limits=tuple(replace(one, do_act=DO) for one in stocked.limits))


@pytest.mark.parametrize("width", [60, 80, 120])
async def test_the_worst_lines_never_lose_what_to_do(bad: Site, clock: Clock, width: int) -> None:
    async with opened(bad, clock, size=(width, 24)) as hand:
        rows = hand.lines("worst").split("\n")
        assert all(len(row) <= width for row in rows)
        told = " ".join(" ".join(rows).split())
        assert told.count(DO) == 2
        assert "..." not in told
        assert "(and 1 more)" in told


async def test_places_below_the_fold_are_counted(bad: Site, clock: Clock) -> None:
    many = {f"B{n}": replace(bad.places["A2"], code=f"B{n}") for n in range(20)}
    async with opened(replace(bad, places={**bad.places, **many}), clock) as hand:
        places = hand.app.screen.query_one("#places")
        seen = places.size.height - 1
        rows = [row.plain for row in places._cut()]
        assert rows[-1].strip() == f"{23 - seen} more below"
        for _ in range(23):
            await hand.press("down")
        rows = [row.plain for row in places._cut()]
        assert rows[-1].strip() == f"{23 - seen} more above"
        assert " > B19" in rows[-2]


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (120, 40)])
async def test_the_verdict_of_a_place_fits_its_row(
    bad: Site, clock: Clock, size: tuple[int, int]
) -> None:
    async with opened(bad, clock, size=size) as hand:
        await hand.resize(*size)
        strips = [s.text for s in hand.app.screen._compositor.render_strips()]
    assert any("A1" in text and "X ACT NOW" in text[20:] for text in strips[5:])


async def test_minutes_of_air_stand_in_a_column_at_every_width_and_beside_the_place(
    stocked: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    def aired(*given: Any, **kinds: Any) -> Board:
        found = board(*given, **kinds)
        return replace(
            found,
            lines=tuple(replace(line, air="38 min flow off") for line in found.lines),
            meters=("Meter 2 reads low: check it",),
            unheard=tuple(f"laptop {n} not heard" for n in range(6)),
        )

    monkeypatch.setattr("rounds.screens.board.board", aired)
    async with opened(stocked, clock, size=(120, 40)) as hand:
        await hand.press("down")
        assert "air 38 min flow off" in hand.lines("side")
        for size in ((120, 40), (80, 24), (60, 16)):
            await hand.resize(*size)
            assert " Air" in hand.lines("columns")
            assert " 38m " in hand.lines("places")
            assert "air 38 min flow off" in hand.lines("telling")
        assert hand.lines("foot").split("\n")[0] == " Meter 2 reads low: check it"


def begun(hand: Hand) -> int:
    return len(of_kind(hand.entries(), Walk))


async def test_a_round_long_before_its_window_is_begun_by_an_enter_only(
    stocked: Site, clock: Clock
) -> None:
    clock.now -= timedelta(hours=4)
    async with opened(stocked, clock) as hand:
        await hand.press("1")
        assert "First light is for 06:30 to 08:30: Enter begins it now" in hand.lines("telling")
        await hand.press("down", "up", "enter")
        assert begun(hand) == 0
        await hand.press("1", "enter")
        assert hand.label == "WALK"
        assert begun(hand) == 1


async def test_what_another_person_began_is_gone_on_with_by_one_more_enter(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1", "escape", "enter", "escape")
        assert hand.label == "BOARD"
    async with opened(stocked, clock, by="rui") as hand:
        await hand.press("enter")
        assert "Ana began First light: Enter goes on with it as Rui" in hand.lines("telling")
        await hand.press("enter")
        assert hand.label == "WALK"
        await hand.press("escape", "enter")
        assert hand.label == "WALK"


async def test_enter_on_a_marked_place_takes_a_round_that_stops_there(
    stocked: Site, clock: Clock
) -> None:
    first = next(iter(stocked.checklists.values()))
    only = replace(
        first, code="only", title="First tank only", visits=("A1",), window="05:00-08:30"
    )
    site = replace(stocked, checklists={"only": only, **stocked.checklists})
    async with opened(site, clock) as hand:
        await hand.press("down", "down")
        assert hand.app.screen.place == "A2"
        await hand.press("enter")
        assert "First light   A2" in hand.lines("head")
        assert "At A2, which was marked" in hand.text
        await hand.press("escape", "down", "down")  # a digit begins its round all the same
        await hand.press(hand.lines("due").partition(" First tank only")[0].split()[-1])
        assert "First tank only   A1" in hand.lines("head")
        assert "No step of it is at A2: here is its next one" in hand.text


async def test_a_round_for_an_event_is_at_need_and_asks_nothing(
    stocked: Site, clock: Clock
) -> None:
    clock.now -= timedelta(hours=4)
    fill = replace(
        stocked.checklists["first-light"], code="fill", title="Make-up water", due="after fill"
    )
    site = replace(stocked, checklists={**stocked.checklists, "fill": fill})
    async with opened(site, clock) as hand:
        assert "Make-up water at need" in hand.lines("due")
        digit = hand.lines("due").partition(" Make-up water")[0].split()[-1]
        await hand.press(digit)
        assert hand.label == "WALK"


async def test_what_must_be_known_before_a_value_is_kept_stands_first_under_the_places(
    bad: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("rounds.screens.board.clock_behind", lambda *_: "Set the clock")
    monkeypatch.setattr("rounds.screens.desk.barred", lambda _: "Nothing can be kept")
    async with opened(bad, clock) as hand:
        assert hand.lines("foot").split("\n")[0].strip() == "Nothing can be kept"
        assert hand.lines("foot").split("\n")[1].strip().startswith("Set the clock")
