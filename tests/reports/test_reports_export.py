"""Export: what others read is what was written and what stands, and no cell is run."""

from __future__ import annotations

import csv
import sys
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rounds.records.entry import Answer, Correction, Entry, Note, Open, Reading
from rounds.reports.cells import safe
from rounds.reports.export import NoDuckDB, Wanted, export

LISBON = ZoneInfo("Europe/Lisbon")
SUMMER_ENDS = ("2026-10-25T00:30:00.000Z", "2026-10-25T01:30:00.000Z")


def _common(n: int, t: str = "2026-11-24T07:02:35.323Z") -> dict[str, str]:
    return {"id": f"k7q2md-r4t9zb-{n}", "t": t, "off": "+00:00", "day": t[:10], "by": "ana"}


def _reading(n: int, value: str, t: str = "2026-11-24T07:02:35.323Z") -> Reading:
    return Reading(**_common(n, t), measure="oxygen", value=value, unit="mg/L", place="G2")


def _correction(n: int, of: int, **more: object) -> Correction:
    return Correction(**_common(n), of=f"k7q2md-r4t9zb-{of}", **more)


def _read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _table(tmp_path: Path, entries: list[Entry], **wanted: object) -> list[dict[str, str]]:
    export(entries, tmp_path / "all.csv", Wanted(**wanted), LISBON)
    return _read(tmp_path / "all.csv")


def test_a_folder_has_a_table_of_each_kind_with_its_own_columns(tmp_path):
    entries = [_reading(1, "8.10"), Note(**_common(2), text="a smell\nat the drain")]
    written = export(entries, tmp_path / "out", Wanted(), LISBON)
    assert [(one.file.name, one.rows) for one in written] == [("reading.csv", 1), ("note.csv", 1)]
    (reading,) = _read(tmp_path / "out" / "reading.csv")
    assert (reading["value"], reading["unit"], reading["stands"]) == ("8.10", "mg/L", "as written")
    (note,) = _read(tmp_path / "out" / "note.csv")
    assert note["text"] == "a smell\nat the drain"
    assert "value" not in note


def test_a_file_has_all_kinds_in_the_order_of_time_whatever_the_order_given(tmp_path):
    entries = [_reading(n, str(n), f"2026-11-2{9 - n}T07:00:00.000Z") for n in range(1, 6)]
    entries.append(Note(**_common(7, "2026-11-25T23:00:00.000Z"), text="late"))
    assert [row["value"] or row["text"] for row in _table(tmp_path, entries)] == [
        "5", "4", "late", "3", "2", "1",
    ]  # fmt: skip


def test_times_are_the_sites_and_utc_tells_the_doubled_hour_apart(tmp_path):
    rows = _table(tmp_path, [_reading(n, "8", t) for n, t in enumerate(SUMMER_ENDS)])
    assert [row["time"] for row in rows] == ["2026-10-25 01:30:00"] * 2
    assert tuple(row["utc"] for row in rows) == SUMMER_ENDS


@pytest.mark.parametrize("turn", [False, True])
def test_corrections_show_what_stands_and_what_was_written(tmp_path, turn):
    entries: list[Entry] = [
        _reading(1, "81"),
        _reading(2, "7.7"),
        _reading(3, "6.0"),
        _correction(4, 1, set={"value": "8.1"}, why="the point"),
        _correction(5, 2, void=True, why="wrong tank"),
        _correction(6, 3, set={"value": "6.1"}),
        _correction(7, 3, set={"value": "6.2"}),
    ]
    if turn:
        entries.reverse()
    export(entries, tmp_path / "out", Wanted(), LISBON)
    one, two, three = _read(tmp_path / "out" / "reading.csv")
    assert (one["value"], one["stands"], one["as_written"]) == ("8.1", "corrected", "value=81")
    assert one["corrections"] == "ana 2026-11-24 07:02:35: value=8.1 (the point)"
    assert (two["value"], two["stands"]) == ("7.7", "void")
    assert (three["value"], three["stands"]) == ("6.0", "in conflict")
    assert "value=6.1" in three["corrections"]
    assert "value=6.2" in three["corrections"]
    assert [row["set"] for row in _read(tmp_path / "out" / "correction.csv")] == [
        "value=8.1", "", "value=6.1", "value=6.2",
    ]  # fmt: skip


def test_a_correction_counts_though_its_day_or_kind_is_not_asked_for(tmp_path):
    late = Correction(**_common(2, "2026-11-29T08:00:00.000Z"), of="k7q2md-r4t9zb-1", void=True)
    (row,) = _table(tmp_path, [_reading(1, "8"), late], kinds=("reading",), last="2026-11-24")
    assert row["stands"] == "void"


def test_days_and_kinds(tmp_path):
    entries = [_reading(n, str(n), f"2026-11-2{n}T07:00:00.000Z") for n in range(1, 6)]
    entries.append(Note(**_common(9, "2026-11-23T07:00:00.000Z"), text="x"))
    wanted = {"kinds": ("reading",), "first": "2026-11-22", "last": "2026-11-24"}
    assert [row["value"] for row in _table(tmp_path, entries, **wanted)] == ["2", "3", "4"]


def test_headers_of_files_are_left_out_unless_asked_for(tmp_path):
    first = Open(
        **_common(0), format=1, site="m4k8q2vz", site_digest="", writer="k7q2md", seg=1, prev="",
        seen={}, app="1",
    )  # fmt: skip
    assert export([first], tmp_path / "a", Wanted(), LISBON) == ()
    assert not (tmp_path / "a").exists()
    assert export([first], tmp_path / "a", Wanted(kinds=("open",)), LISBON)[0].rows == 1


@pytest.mark.parametrize(
    "begins",
    [
        "=1+1",
        "+1",
        "-x",
        "@SUM(A1)",
        "\tx",
        "\rx",
        "-1+1",
        "-",
        "\nx",
        " =1",
        "\u00a0=1",
        "\uff1d1",
        "-5 +x",
        "-5;x",
    ],
)
def test_no_cell_is_a_formula(begins):
    assert safe(begins) == f"'{begins}"


@pytest.mark.parametrize(
    "number", ["-1", "-0.25", "8.10", "0", "", "a=b", "1e5", "a; -3; -4.5", "pH 7-8; ok"]
)
def test_numbers_and_plain_words_stay_as_they_are(number):
    assert safe(number) == number


@given(st.text("=+-@\t\r\n;|' \".,019ax\u00a0\uff1d\uff20\u202e", max_size=12))
@settings(max_examples=60, deadline=None)
def test_a_cell_never_begins_as_a_formula_does(text):
    cell = safe(text)
    assert cell.replace("'", "") == text.replace("'", "")
    assert cell[:1] not in "=+@\t\r\n-" or not cell or cell.lstrip("-").replace(".", "").isascii()


@pytest.mark.parametrize("end", [";", "|", "\n", "; "])
def test_no_part_of_a_cell_is_a_formula_to_who_ends_cells_elsewhere(end):
    said = safe(f"x{end}=cmd{end}\uff20y")
    assert said in (f"x{end}'=cmd{end}'\uff20y", "x;' =cmd;' \uff20y")


def test_formulas_are_safe_in_the_file_too(tmp_path):
    entries = [Note(**_common(1), text='=HYPERLINK("http://x")'), _reading(2, "-1.50")]
    rows = _table(tmp_path, entries)
    assert rows[0]["text"] == '\'=HYPERLINK("http://x")'
    assert rows[1]["value"] == "-1.50"


def test_the_mark_of_utf_8_is_there_when_asked_for(tmp_path):
    export([_reading(1, "8")], tmp_path / "a.csv", Wanted(bom=True), LISBON)
    export([_reading(1, "8")], tmp_path / "b.csv", Wanted(), LISBON)
    a, b = (tmp_path / "a.csv").read_bytes(), (tmp_path / "b.csv").read_bytes()
    assert a == b"\xef\xbb\xbf" + b


@pytest.mark.parametrize("name", ["out", "out.csv"])
def test_nothing_is_overwritten(tmp_path, name):
    (tmp_path / name).write_text("mine")
    with pytest.raises(FileExistsError, match="name a new"):
        export([_reading(1, "8")], tmp_path / name, Wanted(), LISBON)
    assert (tmp_path / name).read_text() == "mine"


@pytest.mark.parametrize("name", ["out", "out.csv"])
def test_nothing_is_overwritten_that_was_made_meanwhile(tmp_path, name):
    def entries():
        yield _reading(1, "8")
        (tmp_path / name).write_text("mine") if "." in name else (tmp_path / name).mkdir()

    with pytest.raises(FileExistsError, match="name a new"):
        export(entries(), tmp_path / name, Wanted(), LISBON)
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).is_dir() or (tmp_path / name).read_text() == "mine"


def test_what_fails_leaves_nothing(tmp_path):
    def torn():
        yield _reading(1, "8")
        raise OSError(5, "the disk went")

    with pytest.raises(OSError, match="went"):
        export(torn(), tmp_path / "out.csv", Wanted(), LISBON)
    assert list(tmp_path.iterdir()) == []


def test_parquet_has_types_where_all_kinds_agree(tmp_path):
    duckdb = pytest.importorskip(
        "duckdb", reason="duckdb is not installed: pip install '.[survey]'"
    )
    entries = [_reading(1, "-1.50"), Answer(**_common(2), step="look", value="=clear")]
    export(entries, tmp_path / "o'ut", Wanted(parquet=True), LISBON)
    export(entries, tmp_path / "all.parquet", Wanted(), LISBON)
    with duckdb.connect() as database:
        database.execute("SET TimeZone = 'UTC'")

        def read(path: str) -> list[tuple[object, ...]]:
            query = "SELECT value, day, time, confirmed FROM read_parquet($1) ORDER BY entry"
            return database.execute(query, [str(tmp_path / path)]).fetchall()

        ((value, day, time, confirmed),) = read("o'ut/reading.parquet")
        assert (value, str(day), str(time)) == (-1.5, "2026-11-24", "2026-11-24 07:02:35")
        assert confirmed is None
        assert [row[0] for row in read("all.parquet")] == ["-1.50", "=clear"]


def test_without_duckdb_one_sentence_says_what_to_install(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "duckdb", None)
    with pytest.raises(NoDuckDB, match=r"pip install 'rounds\[survey\]'"):
        export([_reading(1, "8")], tmp_path / "all.parquet", Wanted(), LISBON)
    assert list(tmp_path.iterdir()) == []
