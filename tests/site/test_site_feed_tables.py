"""Feed tables as CSV: read with their units, every fault named by row and column."""

from __future__ import annotations

import pytest
from sites import GOOD, said, write

from rounds.site.feed_tables import read_feed_table
from rounds.site.loading import load


def read(folder, text):
    path = folder / "maker.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    problems = []
    grid = read_feed_table(path, "feeds/maker.csv", problems)
    assert (grid is None) == bool(problems)
    return grid, [str(problem) for problem in problems]


@pytest.mark.parametrize(
    "text",
    [
        "weight_g,20,25\n10,3.0,4\n100,1.5,2\n",
        "\ufeffweight (g),20,25\r\n10,3.0,4\r\n\r\n100,1.5,2\r\n",
        "g;20;25\n10;3,0;4\n100;1,5;2\n",
        "weight_kg,68 degF,77 degF\n0.01,3.0 %,4 %\n100 g,1.5,2\n",
    ],
)
def test_a_table_is_read_in_the_units_it_names(tmp_path, text):
    grid, _ = read(tmp_path, text)
    assert grid.weights_g == pytest.approx([10, 100])
    assert grid.temperatures_c == pytest.approx([20, 25])
    assert grid.percent == [[3, 4], [1.5, 2]]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("weight_g,20,25\n10,three,4\n", "row 2, column 2: three: must be a number in %"),
        ("weight_g,20,25\n10,3,\n", "row 2, column 3: is empty: a table has no gaps"),
        ("weight_g,20,25\n\n10,3\n", "row 3: has 2 cells, the first row has 3"),
        ("weight_g,20,25\n10,3,4\n10,2,3\n", "row 3, column 1: 10: must be above the 10 g"),
        ("weight_g,25,20\n10,3,4\n", "row 1, column 3: 20: must be above the 25 degC"),
        ("weight_g,20,25\n10,3,4\n50,2,4.5\n", "row 3, column 3: 4.5: is more than the 4 of"),
        ("weight_g,15,20,25\n10,3,2,4\n", "row 2, column 3: 2: a ration rises with temperature"),
        ("weight_g,20,78\n10,3,4\n", "row 1, column 3: 78: must be from -2 to 40 degC"),
        ("weight_g,20,25\n10,3,400\n", "row 2, column 3: 400: must be from 0 to 100 %"),
        ("weight_m,20,25\n10,3,4\n", "row 1, column 1: weight_m: must name the unit"),
        ("weight_g,20,25\n10 cm,3,4\n", "row 2, column 1: 10 cm"),
        ("", "cannot be read as a feed table: first line"),
        ("weight_g,20\n", "cannot be read as a feed table: first line"),
        ('weight_g,20\n"10,3\n', "cannot be read as a feed table"),
        (b"weight_g,20\n10,\xff\n", "must be saved as UTF-8 text"),
    ],
)
def test_a_fault_is_named_by_file_row_and_column(tmp_path, text, says):
    _, told = read(tmp_path, text)
    assert told[0].startswith("feeds/maker.csv")
    assert says in told[0]


def test_every_fault_is_told_at_once(tmp_path):
    _, told = read(tmp_path, "weight_g,20,hot\n10,,4\n-5,x,3\n")
    assert [line.split(": ")[0] for line in told] == [
        "feeds/maker.csv, row 1, column 3",
        "feeds/maker.csv, row 2, column 2",
        "feeds/maker.csv, row 3, column 1",
        "feeds/maker.csv, row 3, column 2",
    ]


def test_a_site_names_the_one_feed_of_a_table_and_its_energy(tmp_path):
    folder = write(
        tmp_path,
        f'{GOOD}[[species]]\ncode = "red-drum"\n[species.table]\nfile = "feeds/maker.csv"\n'
        'source = "the bag"\nfeed = "GROW"\nenergy = "18 kJ/g"\n',
    )
    (folder / "feeds").mkdir()
    (folder / "feeds" / "maker.csv").write_text("weight_g,20\n10,3\n", "utf-8")
    table = load(folder).species["red-drum"].table
    assert (table.feed, table.energy_kj_g, table.verified) == ("GROW", 18, True)
    (folder / "feeds" / "maker.csv").write_text("weight_g,20\n10,3\n50,4\n", "utf-8")
    (line,) = said(folder)
    assert line.startswith("feeds/maker.csv, row 3, column 2: 4: is more than")
