"""The hand-off on paper: its order, its width, and foreign text that cannot steer it."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from msgspec.structs import replace

from rounds.day.telling.handoff import Document, Open, PlaceLine, ToDo
from rounds.reports import handoff as paper
from rounds.reports.paper import escaped

EVIL = (
    "# heading [link](http://evil.test) ![x](y) <b onclick=1> `code` *bold* _it_ ~s~ | "
    "www.evil.test https://evil.test mailto:a@evil.test user@evil.test \x1b[31m \u202e &lt; $x$"
)


def document(**changes: object) -> Document:
    plain = Document(
        site_name="Test House", notice="Invented farm", day=date(2026, 3, 10),
        span="yesterday 20:00 to today 08:00", since=datetime(2026, 3, 9, 20, tzinfo=UTC),
        until=datetime(2026, 3, 10, 8, tzinfo=UTC), by="Ana",
        places=(
            PlaceLine("T2", "Tank 2", "act", "Oxygen 3.9 mg/L, below 4.0", "Aerate now."),
            PlaceLine("T1", "Tank 1", "watch", "Nitrite 3 mg/L, above 1", "Test again."),
            PlaceLine("Q1", "Quarantine", "unknown", "Oxygen not read today", "Read it."),
            PlaceLine("L1", "Larvae", "ok", "Oxygen 6.8 mg/L", ""),
        ),
        changed=("T2: isolated (Ana, 07:00)",),
        not_done=(ToDo("First light: 3 of 8 done", "09:00"),),
        feeds=("T1: 255 g in 1 meal",), doses=("Loop A: 211 g Bicarbonate",), watch=("T2",),
        matters=(Open("m1", "order salt", "Rui", "Friday"),), deaths=("T1: 2 dead",),
        skipped=("T1 Fish look: too dark",), conflicts=(), unseen=(), untaken="", unheard=(),
        unknown=0,
    )  # fmt: skip
    return replace(plain, **changes)  # type: ignore[arg-type]


def test_worst_comes_first_and_everything_is_there() -> None:
    text = paper.render(document(said="Pump hums.\nSpare on shelf C.", to="Rui"), "text")
    order = [
        "Tuesday 10 March 2026", "by Ana, to Rui", "T2  X ACT NOW  Oxygen 3.9 mg/L",
        "T1  ! WATCH  Nitrite 3", "Oxygen not read today: Q1", "OK: L1",
        "First light: 3 of 8 done; by 09:00", "order salt [Rui], until Friday", "T2: isolated",
        "T1: 2 dead", "T1: 255 g", "Loop A: 211 g", "too dark", "Pump hums.", "Spare on shelf C.",
    ]  # fmt: skip
    at = [text.index(part) for part in order]
    assert at == sorted(at)


def test_empty_parts_say_so_and_rare_parts_are_left_out() -> None:
    text = paper.render(document(deaths=(), not_done=(), places=()))
    assert "None counted." in text
    assert "Nothing." in text
    assert "No place has been read today." in text
    for rare in ("NOT SEEN YET", "DO NOT AGREE", "NOT HEARD", "SAID BY"):
        assert rare not in text
    full = paper.render(
        document(
            unseen=(Open("m2", "net torn", "", ""),),
            unheard=("Laptop x not heard.",),
            unknown=2,
            conflicts=("Corrections of T1 oxygen do not agree.",),
            untaken="Not taken over.",
        )
    )
    for part in ("net torn", "Laptop x", "2 entries", "do not agree.", "Not taken over."):
        assert part in full


@pytest.mark.parametrize("form", ["text", "markdown"])
def test_foreign_text_is_clean_in_every_form(form: paper.Form) -> None:
    out = paper.render(document(said=EVIL, by=EVIL, site_name=EVIL, changed=(EVIL,)), form)
    assert not [c for c in out if c != "\n" and (ord(c) < 32 or c in "\x7f\u202e")]


def test_text_is_eighty_columns_wide() -> None:
    out = paper.render(document(changed=("word " * 60,), said="long " * 50))
    assert max(len(line) for line in out.splitlines()) <= 80


def unescaped(markdown: str) -> str:
    """Return Markdown with a plain letter for each escaped character."""
    return re.sub(r"\\.", "x", markdown)


def test_foreign_text_makes_no_markup() -> None:
    for foreign in (EVIL, "1. one", "12) two", "- dash", "+ plus", "> quote", "===", "---", "# h"):
        live = unescaped(escaped(foreign)).replace("<!-- -->", "")
        assert not re.search(r"[\[\]`*_<>|~]", live), live
        assert not re.search(r"(?i)(https?|mailto):|www\.", live), live
        assert not re.match(r"\s*(#|[-+=>]|\d+[.)])", live), live
        assert not re.search(r"\w@\w", escaped(foreign)), foreign


def test_markdown_has_only_its_own_headings() -> None:
    out = paper.render(
        document(said="# not a heading\n## nor this", changed=("\n# no",)), "markdown"
    )
    headings = [line for line in out.splitlines() if line.startswith("#")]
    assert sum(line.startswith("# ") for line in headings) == 1
    assert all(line.removeprefix("## ").removeprefix("# ")[0].isupper() for line in headings), (
        headings
    )


def test_ordinary_text_stays_readable() -> None:
    line = "T1 Oxygen from 6.8 to 4.9 mg/L ! WATCH (Ana, 07:30): 24.5 degC - aerate"
    assert escaped(line) == line


def test_a_file_is_never_overwritten(tmp_path: Path) -> None:
    first = paper.write(tmp_path, document(), "one\n")
    second = paper.write(tmp_path, document(), "two\n")
    assert (first.name, second.name) == ("handoff-2026-03-10-1.md", "handoff-2026-03-10-2.md")
    assert first.parent == tmp_path / "reports"
    assert first.read_text(encoding="utf-8") == "one\n"
    assert second.read_text(encoding="utf-8") == "two\n"
