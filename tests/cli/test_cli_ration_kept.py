"""`rounds ration`: opinions, what was left, feed withheld, and the feed table drawn."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rounds.records import entry as e
from rounds.records.book import Book
from rounds.site.loading import load

Run = Callable[..., Any]


def kept(farm: Path, kind: type[e.Entry]) -> list[Any]:
    site = load(farm)
    with Book.open(farm, site.id, site.digest, tz=site.timezone) as book:
        return [one for one in book.entries() if isinstance(one, kind)]


def test_opinions_stand_with_their_figures_and_why_one_governs(rounds: Run, farm: Path) -> None:
    ran = rounds("--site", farm, "ration", "G1")
    assert "by table: " in ran.out
    assert "by growth: " in ran.out
    assert "by last accepted: " in ran.out
    assert "the table governs" in ran.out or "until a person chooses" in ran.out


def test_feed_is_withheld_by_name_told_everywhere_and_given_again(rounds: Run, farm: Path) -> None:
    by = ("--site", farm, "--by", "rui", "ration", "G2")
    ran = rounds(*by, "--withhold", "24 h", "--why", "before transport")
    assert ran.code == 0
    (matter,) = [one for one in kept(farm, e.Matter) if one.about]
    assert (matter.place, matter.owner, matter.text) == ("G2", "rui", "before transport")
    told = " ".join(rounds("--site", farm, "ration", "G2").out.split())
    assert "NO FEED" in told
    assert "by Rui" in told
    assert rounds(*by, "--give", "200", "--why", "x").code == 2
    assert rounds(*by, "--give", "200", "--why", "did not know", "--confirm").code == 0
    told = " ".join(rounds("--site", farm, "today").out.split())
    assert "Fast broken: 200 g fed" in told
    assert "did not know" in told
    assert rounds(*by, "--feed-again", "--why", "the lorry is late").code == 0
    assert all(one.about == "no feed" or one.of for one in kept(farm, e.Matter)[-2:])


def test_what_was_left_goes_into_the_last_meal(rounds: Run, farm: Path) -> None:
    by = ("--site", farm, "--by", "rui", "ration", "G1")
    assert "nothing was fed" in rounds(*by, "--left", "20").err
    assert rounds(*by, "--give", "200", "--why", "by hand", "--confirm", "--minutes", "3").code == 0
    fed = kept(farm, e.Fed)[-1]
    assert (fed.left, fed.minutes) == ("0", "3")
    assert "20 left" in rounds(*by, "--left", "20").out
    (found,) = [one for one in kept(farm, e.Correction) if one.of == fed.id]
    assert found.set == {"left": "20", "minutes": ""}
    assert rounds(*by, "--left", "201").code == 2


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--left", "3"), "say which place"),
        (("--withhold", "24 h", "--why", "x"), "say which place"),
        (("G1", "--withhold", "24 h", "--feed-again", "--why", "x"), "one at a time"),
        (("G1", "--give", "--take-back", "--why", "x"), "one at a time"),
        (("G1", "--minutes", "soon"), "--minutes"),
        (("G1", "--withhold", "soon", "--why", "x"), "is not a time"),
    ],
)
def test_what_cannot_be_is_one_sentence(
    rounds: Run, farm: Path, words: tuple[str, ...], says: str
) -> None:
    ran = rounds("--site", farm, "--by", "rui", "ration", *words)
    assert ran.code == 2
    assert says in ran.err
    assert ran.err.count("\n") == 1


def test_the_feed_table_is_drawn_with_the_tanks_that_stand_in_it(rounds: Run, farm: Path) -> None:
    ran = rounds("--site", farm, "ration", "--table")
    assert "unverified" in ran.out
    assert "a 14 degC" in ran.out
    for code in ("G1", "G2", "G5"):
        assert any(code in line and "degC: " in line for line in ran.out.split("\n"))
    assert all(len(line) <= 80 for line in ran.out.split("\n"))
    assert ran.out.isascii()
    (row,) = rounds("--site", farm, "ration", "G1", "--table", "--json").json["rows"]
    assert row["table"]["percent"]
    assert [one["place"] for one in row["feeding"]] == ["G1"]
