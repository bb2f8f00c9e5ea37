"""The table of the board: figures whole at every width, names shortened by words, the band."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from rounds.day.telling.board import BoardLine, Change
from rounds.screens.band import ROWS, band
from rounds.screens.boardtable import table
from rounds.screens.boardtexts import short_name, two_rows

LINES = tuple(
    BoardLine(
        f"G{n}", "tank", f"Grow-out tank {n}", f"~{4000 + n}",
        (("temperature", "25.9", "watch"), ("oxygen", "11.4", "ok"), ("ph", "7.71", "ok"),
         ("ammonia", "0.031", "act")),
        f"3 of 1{n}", "1 260 g", "act", "NH3-N high", "Change water.", "First light by 09:00",
        "~154 min", meal="NO FEED", changes=(Change("oxygen", "down", ""),),
    )
    for n in range(10)
)  # fmt: skip


@pytest.mark.parametrize("width", range(60, 140, 4))
def test_a_row_fits_its_width_with_every_figure_whole(width: int) -> None:
    cells = table(LINES, width)
    rows = [cells.head(), *(cells.line(line, n == 1) for n, line in enumerate(LINES))]
    assert all(row.cell_length <= width for row in rows)
    for told in ("11.4v", "~154m", " NO FEED ", "X ACT NOW"):
        assert told in f"{rows[1].plain} "
    assert ".." not in rows[1].plain
    assert rows[1].plain.index("11.4") + 4 == rows[0].plain.index("O2") + 2


def test_what_nobody_has_is_no_column_but_oxygen() -> None:
    bare = [BoardLine("G1", "tank", "Tank", "-", (), "-", "-", "ok", "", "", "")]
    assert table(bare, 80).head().plain.split() == ["Place", "O2", "Verdict"]


@pytest.mark.parametrize(
    ("name", "width", "short"),
    [
        ("Grow-out tank 4", 20, "Grow-out tank 4"),
        ("Grow-out tank 4", 10, "Grow-out 4"),
        ("Brine shrimp hatcher", 12, "Brine shrimp"),
        ("Killifish pond", 9, "Killifish"),
        ("Feed and chemical store", 9, "Feed"),
    ],
)
def test_a_name_is_shortened_by_whole_words_and_keeps_its_number(
    name: str, width: int, short: str
) -> None:
    assert short_name(name, width) == short


@pytest.mark.parametrize("room", [40, 48, 66, 110])
def test_the_headline_gives_way_by_whole_words_and_never_what_to_do(room: int) -> None:
    says = (
        "Off feed since Thu 19 Nov: 6, 5, 10, 23 % left, 1 % before; 61 of 224 g at the last meal"
    )
    do = "Look at the fish and their gills, read oxygen, temperature, pH; feed what the sheet says."
    line = replace(LINES[0], says=says, do=do)
    told = " ".join(row.plain.strip() for row in two_rows(line, room, ""))
    head, _, rest = told.removeprefix("G0: ").partition(" Look")
    assert f"Look{rest}" == do
    kept = head.removesuffix(".").removesuffix(".").rstrip(".")
    assert says.startswith(kept)
    assert says[len(kept) : len(kept) + 1] in ("", " ", ":", ",", ";")


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("big", [True, False])
def test_the_band_is_filled_from_edge_to_edge_and_names_places(width: int, big: bool) -> None:
    places = ", ".join(f"G{n}" for n in range(40))
    rows = band("act", [places, "3 to watch"], width, big=big)
    assert len(rows) == (ROWS if big and width > 60 else 1)
    assert all(row.cell_length == width for row in rows)
    assert all("on $act" in str(span.style) for row in rows for span in row.spans)
    told = " ".join(row.plain for row in rows)
    assert " more" in told
    assert "3 to watch" in told
