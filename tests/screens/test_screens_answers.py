"""What the walk asks back and tells: doubts, causes, corrections, a Backspace held down."""

from __future__ import annotations

from msgspec.structs import replace
from screens_hand import Clock, Hand, of_kind, open_book, opened

from rounds.records.entry import Answer, Died, Reading
from rounds.screens.bounce import HELD_S
from rounds.site.model import Site


def question(hand: Hand) -> str:
    return hand.lines("body").partition("Steps at")[0].partition("This pass")[0]


async def test_backspace_held_down_empties_the_line_and_goes_no_step_back(
    stocked: Site, clock: Clock
) -> None:
    time = [0.0]
    async with opened(stocked, clock, steady=lambda: time[0]) as hand:
        await hand.press("enter", "1")
        time[0] += 1
        await hand.type("6.8")
        await hand.press("enter")
        await hand.type("25")
        for _ in range(12):
            time[0] += 0.03
            await hand.press("backspace")
        assert "Water temperature" in hand.lines("body").split("[")[0]
        assert "25" not in hand.lines("body").split("[")[1].split("]")[0]
        time[0] += HELD_S
        await hand.press("backspace")  # one too many leads nowhere, and says so
        assert "The field is empty: once more goes a step back" in hand.lines("telling")
        assert "Water temperature" in hand.lines("body").split("[")[0]
        time[0] += HELD_S
        for _ in range(12):  # pressed anew it goes one step back, and held there it stays
            await hand.press("backspace")
            time[0] += 0.03
        assert "Dissolved oxygen" in hand.lines("body").split("[")[0]
        assert "6.8" in hand.lines("body").split("[")[1].split("]")[0]


async def test_backspace_held_down_walks_over_no_step_with_a_choice(
    stocked: Site, clock: Clock
) -> None:
    time = [0.0]
    async with opened(stocked, clock, steady=lambda: time[0]) as hand:
        await hand.press("enter", "1", "6", "enter")
        time[0] += 1
        await hand.press("enter", "2", "5", "enter")
        time[0] += 1
        await hand.press("1")
        time[0] += 1
        await hand.press("up")
        assert "Do all swim" in hand.lines("body")
        for _ in range(12):
            await hand.press("backspace")
            time[0] += 0.03
        assert "A1" in hand.lines("head")
        assert "Water temperature" in hand.lines("body").split("[")[0]


async def test_a_correction_that_asks_no_reason_says_that_it_is_done(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("6.8")
        await hand.press("enter", "up")
        await hand.type("7.1")
        await hand.press("enter")
        assert "A1: corrected, was 6.8 mg/L. Now Oxygen 7.1 mg/L" in hand.lines("telling")


async def test_the_first_digit_replaces_what_was_half_typed(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("11")
        await hand.press("escape", "enter")
        assert "You had typed 11" in hand.lines("telling")
        await hand.type("7.5")
        await hand.press("enter")
        assert [e.value for e in of_kind(hand.entries(), Reading) if e.walk] == ["7.5"]


async def test_the_cause_of_deaths_is_asked_by_a_digit_and_none_of_none(
    stocked: Site, clock: Clock
) -> None:
    site = replace(stocked, causes=("cannibalism", "jumped out"))
    async with opened(site, clock) as hand:
        await hand.press("enter")
        while "Dead fish" not in question(hand):
            await hand.press("s", "1")
        await hand.type("2")
        await hand.press("enter")
        assert "2 dead: what of?" in hand.text
        assert not of_kind(hand.entries(), Died)
        await hand.press("2")
        while "Dead fish" not in question(hand):
            await hand.press("s", "1")
        await hand.press("1", "enter", "escape")
        while "Dead fish" not in question(hand):
            await hand.press("s", "1")
        await hand.press("0", "enter")
        assert "what of?" not in hand.text
        died = of_kind(hand.entries(), Died)
        assert [(d.count, d.cause) for d in died] == [(2, "jumped out"), (1, ""), (0, "")]


async def test_a_choice_without_a_digit_says_press_a_digit(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "enter")
        assert "Press the digit" in hand.lines("telling")
        assert not of_kind(hand.entries(), Answer)


async def test_a_slip_is_odd_and_never_ok_and_the_hint_tells_the_next_enter(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("11.9")
        body = hand.lines("body").partition("Steps at")[0]
        assert "? ODD" in body
        assert " OK " not in body
        assert "Enter, then Enter again keeps it" in body
        await hand.press("enter")
        body = hand.lines("body").partition("Steps at")[0]
        assert "Enter, then Enter again" not in body
        assert "Enter again keeps it" in body


async def test_what_to_do_stays_after_a_bad_value_is_kept(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("2.9")
        await hand.press("enter", "enter")
        told = hand.lines("telling")
        assert "kept 2.9. Aerate now. Read again by" in told
        assert told.count("2.9") == 1


async def test_a_long_telling_goes_on_in_a_second_row_and_loses_no_word(
    stocked: Site, clock: Clock
) -> None:
    do = "Aerate now with every stone there is, stop feeding this tank, call the supervisor"
    limits = tuple(replace(one, do_act=f"{do}.") for one in stocked.limits)
    async with opened(replace(stocked, limits=limits), clock) as hand:
        await hand.press("enter", "1")
        await hand.type("2.9")
        await hand.press("enter", "enter")
        rows = hand.lines("telling").split("\n")
        assert len(rows) == 2
        assert all(len(row) <= 80 for row in rows)
        assert f"{do}. Read again by" in " ".join(" ".join(rows).split())
        assert hand.app.screen.query_one("#telling").styles.height.value == 2


async def test_a_pass_is_explained_where_it_begins(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock, size=(120, 40)) as hand:
        await hand.press("enter")
        assert "This pass goes over all places: Do all swim" in hand.lines("body")
        await hand.press("1")
        assert "pass 1 of 2  " in hand.lines("body")


async def test_reading_again_is_named_so(stocked: Site, clock: Clock) -> None:
    with open_book(stocked, clock) as book:
        book.append(
            Reading(
                measure="oxygen", value="4.9", unit="mg/L", place="A1", by="rui", verdict="watch"
            )
        )
    async with opened(stocked, clock) as hand:
        await hand.press("a")
        assert "READ AGAIN  A1  First tank" in hand.lines("head")
        assert "Step 1 of 1" not in hand.text


async def test_what_was_told_is_gone_when_another_screen_was_opened(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        assert "A1" in hand.lines("telling")
        await hand.press("w", "escape")
        assert not hand.lines("telling").strip()


async def test_the_key_line_offers_enter_only_for_what_it_does(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter")
        assert "Enter" not in hand.lines("keys")  # a digit answers this step
        await hand.press("enter")
        assert "Press the digit of the answer" in hand.lines("telling")
        await hand.press("w")
        assert "Type a value" not in hand.text
        await hand.press("escape", "s")
        assert "Enter" not in hand.lines("keys")
        await hand.press("down")
        assert "Enter the marked one" in hand.lines("keys")


async def test_a_key_with_nothing_to_do_says_why(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("r")
        for key, says in (("u", "take back"), ("l", "No meal was given"), ("c", "agree here")):
            await hand.press(key)
            assert says in hand.lines("telling"), key
    async with opened(stocked, clock, by=None) as hand:
        assert "Ctrl+Q leaves" in hand.lines("telling")
