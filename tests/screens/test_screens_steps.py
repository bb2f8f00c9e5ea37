"""Every step of the shipped checklists in every size of window: nothing that counts is cut."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from msgspec.structs import replace

from rounds.day.fold.farm import fold
from rounds.day.walking import walk
from rounds.day.walking.steps import WalkState, asked
from rounds.screens.field import NUMBER, Field
from rounds.screens.gridrows import grid_rows
from rounds.screens.walkrows import Known, body_rows, choices
from rounds.screens.walktexts import meanwhile
from rounds.site.loading import load
from rounds.site.shipped import shipped

NOW = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)
KNOWN = Known(132, "last here yesterday 06:30", full=False)
TYPED = ("", "3.1", "39")


@pytest.fixture(scope="module")
def stands() -> list[WalkState]:
    """A walk at each step of each checklist, at the first place that asks it."""
    site = load(shipped("sample_site"))
    farm = fold(site, ())
    found = {}
    for checklist in site.checklists.values():
        state = asked(site, farm, checklist, "w", date(2026, 3, 2), "ana")
        for index, item in enumerate(state.items):
            found.setdefault(
                (checklist.code, item.step.code),
                WalkState(site, farm, checklist, "w", state.day, "ana", state.items, index),
            )
    return list(found.values())


@pytest.mark.parametrize("size", [(60, 12), (80, 21), (56, 37)], ids=["60x16", "80x24", "120x40"])
def test_a_step_shows_question_aim_and_what_to_do_uncut(
    stands: list[WalkState], size: tuple[int, int]
) -> None:
    width, height = size
    for state in stands:
        item = state.item
        assert item is not None
        step = item.step
        number = step.answer in ("number", "count")
        answers = (*choices(item), "") if not number else TYPED
        for text in answers if size == (60, 12) else {answers[0], answers[-1]}:
            field = Field(NUMBER, 16) if number else None
            if field is not None:
                field.set(text)
            look = walk.look(state, text, NOW)
            picked = "" if number else text
            rows = body_rows(state, look, field, picked, False, width, height, KNOWN)
            told = [row.plain for row in rows]
            flat = " ".join(" ".join(told).split())
            assert len(rows) <= height
            assert max(row.cell_length for row in rows) <= width, told
            assert not [line for line in told if ".." in line.replace(".. W more", "")], told
            wanted = [step.ask, look.aim, look.do if text else step.caution[:20]]
            missing = [one for one in wanted if " ".join(one.split()) not in flat]
            assert not missing, "\n".join(told)


def test_what_runs_on_under_the_field_begins_a_sentence(stands: list[WalkState]) -> None:
    runs_on = 0
    for state in stands:
        item = state.item
        if item is None or item.step.answer not in ("number", "count"):
            continue
        look, field = walk.look(state, "", NOW), Field(NUMBER, 16)
        rows = [
            row.plain.strip()
            for row in body_rows(state, look, field, "", False, 80, 21, KNOWN)
            if row.plain.strip()
        ]
        under = rows[next(n for n, text in enumerate(rows) if text.startswith("[ ")) + 1 :]
        assert under[0].startswith("Type a value")
        if under[1:] and not under[1].startswith("Steps at"):
            runs_on += 1
            how = item.step.how
            at = how.index(under[1])
            assert at == 0 or how[:at].rstrip().endswith("."), under[1]
    assert runs_on


def test_a_question_for_words_names_no_digit(stands: list[WalkState]) -> None:
    for state in stands:
        if state.item is not None and state.item.step.answer == "text":
            look = walk.look(state, "", NOW)
            for rows in (
                body_rows(state, look, None, "", False, 80, 21, KNOWN),
                grid_rows(state, look, None, "", False, 80, 21),
            ):
                told = "\n".join(row.plain for row in rows)
                assert "to write a line" in told
                assert "digit" not in told
            return
    raise AssertionError("no checklist asks for words")


def test_going_on_tells_what_others_did_after_ones_own_last_step(stands: list[WalkState]) -> None:
    state = stands[0]
    assert meanwhile(state) == ""
    done = [
        replace(item, status="kept", at=NOW.replace(minute=minute), who=who)
        for item, minute, who in zip(
            state.items, (1, 5, 7, 6), ("by Rui 07:01", "", "by Rui 07:07", "by Lia 07:06"),
            strict=False,
        )
    ]  # fmt: skip
    state = replace(state, items=(*done, *state.items[4:]))
    assert meanwhile(state) == f"2 steps done by others, last {done[2].place.code} by Rui 07:07"
