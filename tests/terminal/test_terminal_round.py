"""The real program on a terminal of 80 by 24: a morning as it happens, with all that goes wrong."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from rounds.day.fold.farm import Farm, fold
from rounds.records.book import Book
from rounds.records.entry import Correction, Reading, Skipped
from rounds.records.verifying import verify
from rounds.sample.make import make
from rounds.site.loading import load
from rounds.site.shipped import shipped

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminal here")
if sys.platform != "win32":
    from tests.terminal.program import BOUNCE_S, DOWN, ESCAPE, UP, Program, command, digit

HALF_TYPED = "25."


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sample of four days that ended yesterday, in a zone where it is past seven now.

    The program looks at the real clock: in this zone that shows a morning at any hour.
    """
    folder = tmp_path_factory.mktemp("morning")
    site = Path(shutil.copytree(shipped("sample_site"), folder / "site"))
    now = datetime.now(UTC)
    east = (7 - now.hour + 11) % 24 - 11
    told = (site / "site.toml").read_text("utf-8")
    told = told.replace('timezone = "Europe/Lisbon"', f'timezone = "Etc/GMT{-east:+d}"')
    told = told.replace("longitude = -9.6", f"longitude = {15 * east}")
    (site / "site.toml").write_text(told, "utf-8")
    today = now.astimezone(load(site).timezone).date()
    return make(folder / "farm", ending=today - timedelta(days=1), days=4, site=site)


@pytest.fixture
def farm(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "farm"))


def _env(tmp_path: Path, laptop: str) -> dict[str, str]:
    """The environment of one laptop: where it keeps what it knows of itself."""
    state = tmp_path / laptop
    return {"ROUNDS_STATE": str(state), "ROUNDS_BY": "ana", "ROUNDS_SITE": ""}


def _opened(farm: Path, env: dict[str, str]) -> Program:
    return Program([command(), "sample", farm, "--open"], env)


def _run(env: dict[str, str], *arguments: str | Path, typed: str = "", code: int = 0) -> str:
    done = subprocess.run(
        [str(command()), *map(str, arguments)],
        input=typed, env={**os.environ, **env}, capture_output=True, text=True, timeout=30,
    )  # fmt: skip
    assert done.returncode == code, done.stderr
    return done.stdout


def begins(text: str) -> bool:
    """Tell whether the rounds stand on the board: a screen may be read half painted."""
    return re.search(r"\d\s+First light", text) is not None


def _begin(app: Program) -> None:
    """Read what is said at the first start, then begin first light from the board."""
    app.wait("not an alarm")
    app.enter()
    board = app.wait("BOARD", "Invented farm", begins, gone=["not an alarm"])
    app.type(digit(board, "First light"))
    if "Enter begins it now" in app.wait(lambda text: "WALK" in text or "begins it now" in text):
        app.enter()
    app.wait("WALK", "R1  Rotifer culture", "Step 1 of")


def _book(folder: Path) -> Farm:
    site = load(folder)
    with Book.open(folder, site.id, site.digest, tz=site.timezone, read_only=True) as book:
        return fold(site, book.entries())


def _laptops(folder: Path) -> set[str]:
    return {one.name for one in (folder / "records" / "sealed").iterdir()}


def _unfinished(farm: Farm) -> set[str]:
    return {name for name, walk in farm.walks.items() if walk.done_at is None}


def test_a_morning_with_everything_that_happens(farm: Path, tmp_path: Path) -> None:
    mine, theirs, stick = _env(tmp_path, "mine"), _env(tmp_path, "theirs"), tmp_path / "stick"
    stick.mkdir()
    other = Path(shutil.copytree(farm, tmp_path / "other"))
    before = _book(farm).size

    with _opened(farm, mine) as app:
        _begin(app)
        app.wait("WALK", "R1  Rotifer culture", "Step 1 of")
        app.type("26,1")  # a comma
        app.enter()
        app.wait("B1  Brine shrimp hatcher", "OK   R1: Temperature 26.1")
        app.type("2.76")  # a tenfold slip is named, at the key
        app.wait("decimal point? 27.6")
        app.type("\x7f" * 4 + "276")  # what cannot be is not kept
        app.wait("[ 276 ", "cannot be")
        app.enter()
        app.wait("Step 2 of")
        app.type("\x7f" * 3 + "27.6")
        app.enter()
        app.wait("L1  Larval tank 1", "Step 3 of")
        app.type("s")
        app.wait("no time", "instrument broken")
        app.type("2")
        app.wait("Step 4 of", "instrument broken")
        app.type("11.4")  # odd, told, kept all the same
        app.wait("[ 11.4 ", "is oxygen being added?", "Enter, then Enter again keeps it")
        app.enter()
        app.wait("Enter ag", "Step 4 of")
        app.enter()
        app.wait("Step 5 of", "L1: ")
        app.type("b")
        app.wait("Step 4 of", "11.4")
        app.type("b")
        app.wait("Step 3 of")
        app.type("b")
        app.wait("Step 2 of", "B1  Brine shrimp hatcher", "27.6")
        app.type("27.4")  # a correction in an earlier place
        app.enter()
        app.wait("Step 5 of", "L1  Larval tank 1", gone=["Step 2 of"])

        _run(theirs, "--site", other, "walk", "live-food", typed="320\ny\n31\ny\n205\ny\n")
        _run(theirs, "--site", other, "sync", stick)
        new = (_laptops(other) - _laptops(farm)).pop()
        _run(mine, "--site", farm, "sync", stick, code=1)  # a laptop never heard of waits
        _run(mine, "--site", farm, "sync", "--enrol", new)
        app.type("\x1b")  # the board hears of it by itself
        app.wait("BOARD", lambda text: not re.search(r"\d\s+Live food\s+\d", text))
        app.enter()
        app.wait("Step 5 of")
        app.type(HALF_TYPED)
        app.wait(f"[ {HALF_TYPED} ")
        app.signal(signal.SIGKILL)
        assert app.end() == -signal.SIGKILL

    kept = _book(farm)
    new = [entry for entry in kept.entries.values() if entry.walk in _unfinished(kept)]
    values = {(e.place, e.measure): e for e in new if isinstance(e, Reading)}
    assert values[("R1", "temperature")].value == "26.1"
    assert values[("B1", "temperature")].value == "27.6"
    assert values[("L1", "oxygen")].confirmed
    assert [e.reason for e in new if isinstance(e, Skipped)] == ["instrument broken"]
    fixed = next(entry for entry in kept.entries.values() if isinstance(entry, Correction))
    assert fixed.of == values[("B1", "temperature")].id
    assert fixed.set["value"] == "27.4"
    assert ("L1", "temperature") not in values
    mine_kept = 1 + 1 + 3 + 1 + 1 + 1  # header, begun, readings, skip, correction, left
    theirs_kept = 1 + 1 + 3 + 1  # header, begun, readings, done
    taken_in = 1 + 1  # header, laptop
    assert kept.size == before + mine_kept + theirs_kept + taken_in

    with _opened(farm, mine) as app:
        app.wait("BOARD", "First light", "open")
        app.enter()
        app.wait("WALK", "L1  Larval tank 1", "Step 5 of", "Water temperature")
        app.type("26.2")  # judged with the odd oxygen: told again
        app.enter()
        app.wait("% of saturation", "Enter ag")
        app.enter()
        app.wait("Step 6 of")
        app.type("\x1b")
        app.wait("BOARD")
        app.type("q")
        assert app.end() == 0
        assert app.restored()
    assert verify(farm, load(farm).id).findings == ()
    paper = _run(mine, "--site", farm, "handoff", "--to", "rui")
    assert "L1" in paper
    assert "instrument broken" in paper
    assert len(list((farm / "reports").glob("handoff-*.md"))) == 1


@pytest.mark.parametrize(
    ("number", "code"), [(signal.SIGTERM, 143), (signal.SIGHUP, 129)], ids=["term", "hup"]
)
def test_signal_leaves_the_terminal_whole_and_the_walk_open(
    farm: Path, tmp_path: Path, number: signal.Signals, code: int
) -> None:
    env = _env(tmp_path, "mine")
    with _opened(farm, env) as app:
        _begin(app)
        app.wait("Step 1 of")
        app.type("25.8")
        app.enter()
        app.wait("Step 2 of")
        app.signal(number)
        assert app.end() == code
        assert app.restored()
    kept = _book(farm)
    assert [walk for walk in kept.walks.values() if walk.done_at is None]
    assert kept.reads("R1", "temperature")[-1].typed == "25.8"


def test_resize_keeps_the_question_and_what_was_typed(farm: Path, tmp_path: Path) -> None:
    with _opened(farm, _env(tmp_path, "mine")) as app:
        _begin(app)
        app.wait("Step 1 of")
        app.type("25.")
        app.wait("[ 25. ")
        for columns, rows in ((120, 40), (100, 30), (80, 24)):
            app.resize(columns, rows)
            app.wait("Step 1 of", "[ 25. ", lambda text, c=columns: len(text.split("\n")[0]) <= c)
        app.resize(50, 12)
        app.wait(lambda text: "Step 1 of" not in text)
        app.resize(80, 24)
        app.wait("Step 1 of", "[ 25. ")
        app.type("8")
        app.enter()
        app.wait("Step 2 of", "25.8")


def test_a_key_sends_few_bytes_and_no_key_none(farm: Path, tmp_path: Path) -> None:
    """What changes is what is sent: bounds that break when more than that is drawn."""
    with _opened(farm, _env(tmp_path, "mine")) as app:
        _begin(app)
        app.settle(0.2)
        digits, kept = [], []
        for typed in ("25.8", "27.4", "", "6.6", "25.1"):
            digits += [app.press(key).bytes for key in typed]
            app.settle(BOUNCE_S)
            kept.append(app.press("\r" if typed else "1").bytes)
        app.wait("Step 6 of")
        left = app.press(ESCAPE).bytes
        app.wait("BOARD")
        app.settle(0.2)
        marks = [app.press(key).bytes for key in (DOWN, DOWN, UP, UP)]
    assert min(digits) > 0
    assert max(digits) <= 300, digits
    assert max(kept) <= 1000, kept
    assert left <= 3000
    assert max(marks) <= 300, marks


def test_stopped_and_gone_on_with_it_shows_all_again(farm: Path, tmp_path: Path) -> None:
    with _opened(farm, _env(tmp_path, "mine")) as app:
        _begin(app)
        app.type("25")
        before = app.wait("[ 25 ", "Temperature 25")
        app.signal(signal.SIGTSTP)
        app.stopped()
        app.screen.reset()
        app.signal(signal.SIGCONT)
        assert app.wait(lambda text: text == before)


def test_what_is_half_typed_is_judged_when_no_key_comes(farm: Path, tmp_path: Path) -> None:
    with _opened(farm, _env(tmp_path, "mine")) as app:
        _begin(app)
        app.type("2")
        app.wait("[ 2 ", "2 ...", gone=["ACT NOW"])
        app.wait("ACT NOW", gone=["2 ..."])
        app.type("5")
        app.wait("[ 25 ", "OK", gone=["ACT NOW"])


def test_without_a_terminal_todays_sheet_is_printed(farm: Path, tmp_path: Path) -> None:
    told = _run(_env(tmp_path, "mine"), "sample", farm, "--open")
    assert "Samphire House" in told
    assert "\x1b" not in told


def test_no_color_sends_no_colour_only_bold_and_reverse(farm: Path, tmp_path: Path) -> None:
    with _opened(farm, {**_env(tmp_path, "mine"), "NO_COLOR": "1"}) as app:
        _begin(app)
        app.type("1")
        app.wait("ACT NOW")
        wire = bytes(app.wire)
    sent = {code for codes in re.findall(rb"\x1b\[([0-9;:]*)m", wire) for code in codes.split(b";")}
    assert sent <= {b"", b"0", b"1", b"7", b"22", b"27"}, sent  # and the ends of both
    assert {b"1", b"7"} <= sent
