"""Which lines another version of the site's files changes: whole, clean, and within bounds."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import SequenceMatcher

import pytest

from rounds.day.laptops import difference as room
from rounds.day.laptops.difference import difference
from rounds.site.versions import Version


def told(old: dict[str, str], new: dict[str, str]) -> tuple[str, ...]:
    return difference(Version("", old), Version("", new))


def test_the_lines_that_differ_are_told_with_one_around_each() -> None:
    old = "".join(f"line {n}\n" for n in range(1, 600))
    new = old.replace("line 10\n", "line ten\n").replace("line 500\n", "")
    assert told({"site.toml": old}, {"site.toml": new}) == (
        "site.toml:",
        "from line 9", "= line 9", "- line 10", "+ line ten", "= line 11",
        "from line 499", "= line 499", "- line 500", "= line 501",
    )  # fmt: skip


def test_files_that_come_and_go_are_told_after_the_site() -> None:
    old = {"site.toml": "a = 1\n", "checklists/dawn.toml": "title = 'x'\n"}
    new = {"site.toml": "a = 2\n", "feeds/own.csv": "weight_g,25\n10,2\n"}
    assert told(old, new) == (
        "site.toml:", "from line 1", "- a = 1", "+ a = 2",
        "checklists/dawn.toml:", "from line 1", "- title = 'x'",
        "feeds/own.csv:", "from line 1", "+ weight_g,25", "+ 10,2",
    )  # fmt: skip
    assert told(old, old) == ()


def test_what_comes_from_anyone_is_shown_as_plain_text() -> None:
    lines = told({"site.toml": ""}, {"site.toml": "x = '\x1b[2J\u202eevil' # " + "y" * 480 + "\n"})
    assert lines[2].endswith("y" * 480)
    assert not any("\x1b" in line or "\u202e" in line for line in lines)


def test_more_lines_than_are_shown_are_counted_and_the_next_file_is_told() -> None:
    many = "".join(f"a{n} = 1\n" for n in range(500))
    lines = told({"site.toml": "x\n"}, {"site.toml": many, "species/z.toml": "b = 2\n"})
    assert len(lines) == 1 + 60 + 1 + 3
    assert lines[61] == "and 442 more lines of site.toml"
    assert lines[-1] == "+ b = 2"


def test_hostile_files_cost_little(monkeypatch: pytest.MonkeyPatch) -> None:
    matched: list[int] = []

    class Counted(SequenceMatcher[str]):
        def __init__(self, junk: None, a: Sequence[str], b: Sequence[str]) -> None:
            matched.append(max(len(a), len(b)))
            super().__init__(junk, a, b)

    monkeypatch.setattr(room, "SequenceMatcher", Counted)
    old = {f"feeds/f{n}.csv": "".join(f"{i % (90 + n)}\n" for i in range(900)) for n in range(9)}
    old["site.toml"] = "a\n" * 40_000
    new = {name: f"z\n{text[::-1]}z\n" for name, text in old.items()}
    assert 400 <= len(told(old, new)) <= 400 + 2 * 10
    assert sum(matched) <= 5 * 1000
