"""Each failure as a person meets it: the real command, and the one sentence it must say."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path

from rounds.records import identity
from rounds.sample.make import make
from rounds.site.loading import load
from tests.faults.row import Row, skipped, workplace

FAULT = ("record", "fault", "about=leak")
MARK = "says what to do, in a sentence"
_SHIFTED = """
import sys
from datetime import UTC, datetime, timedelta
from rounds.cli import main, opened
from rounds.records import writing
by = timedelta(days=float(sys.argv[1]))
now = lambda: datetime.now(UTC) + by
writing.utc_now = now
opened.present = now
from rounds.records.book import Book
Book.open.__func__.__kwdefaults__["clock"] = now
sys.exit(main(sys.argv[2:]))
"""


def rows(failures: int = 1, seed: int = 1) -> Iterator[Row]:
    """Meet each failure once."""
    with workplace() as place:
        site = make(place / "farm", ending=date.today() - timedelta(days=1), days=2, seed=seed)
        for number, (what, act) in enumerate(FAILURES.items()):
            at = place / str(number)
            at.mkdir()
            shutil.copytree(site, at / "farm")
            os.environ["ROUNDS_STATE"] = str(at / "state")
            try:
                said, wanted = act(at)
            except PermissionError as error:
                yield skipped(what, MARK, str(error))
                continue
            heard = bool(re.search(wanted, " ".join(said.split())))
            note = "" if heard else f"it said: {' '.join(said.split())[-300:]}"
            yield Row(what, 1, 1, int(not heard), MARK, heard, note)


def _words(folder: Path, *words: str, days: float = 0) -> list[str]:
    start = [_SHIFTED, str(days)] if days else ["from rounds.cli import main; exit(main())"]
    return [sys.executable, "-c", *start, "--site", folder.name, "--by", "ana", *words]


def _rounds(folder: Path, *words: str, days: float = 0) -> str:
    done = subprocess.run(
        _words(folder, *words, days=days), cwd=folder.parent, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    if "Traceback" in done.stderr or "fault of the program" in done.stderr:
        return f"a fault: {done.stderr}"
    return done.stdout + done.stderr


def _two_programs(at: Path) -> tuple[str, str]:
    farm = at / "farm"
    runs = [
        subprocess.Popen(
            _words(farm, *FAULT, f"where={one}"), cwd=at, stdout=subprocess.PIPE, text=True
        )
        for one in list(load(farm).places)[2:6]
    ]
    said = "".join(run.communicate()[0] for run in runs)
    kept = said.count("Kept")
    return f"{kept} kept; {_rounds(farm, 'verify')}", r"4 kept; .* all as it was written\."


def _cloned(at: Path) -> tuple[str, str]:
    farm, twin = at / "farm", at / "twin"
    site_id = load(farm).id
    _rounds(farm, *FAULT)
    shutil.copytree(farm, twin)
    shutil.copytree(identity.state_folder(farm, site_id), identity.state_folder(twin, site_id))
    (at / "stick").mkdir()
    _rounds(farm, "record", "fault", "about=air")
    _rounds(twin, "record", "fault", "about=filter")
    _rounds(farm, "sync", "stick")
    return _rounds(twin, "sync", "stick"), r"This laptop was copied, or restored [^.]*\."


def _restored(at: Path) -> tuple[str, str]:
    farm = at / "farm"
    (at / "stick").mkdir()
    _rounds(farm, *FAULT)
    shutil.copytree(farm, at / "old")
    _rounds(farm, "record", "fault", "about=air")
    _rounds(farm, "sync", "stick")
    shutil.rmtree(farm)
    (at / "old").rename(farm)
    return _rounds(farm, "sync", "stick"), r"This laptop was copied, or restored [^.]*\."


def _from_backup(at: Path) -> tuple[str, str]:
    said = _rounds(at / "farm", "backup", "farm.zip") + _rounds(
        at / "x", "restore", "farm.zip", "n"
    )
    return said, r"safe to remove the stick\..*writes under a new laptop's name from now on\."


@contextmanager
def _read_only(folder: Path) -> Iterator[None]:
    if os.geteuid():
        raise PermissionError("needs root, for a mount that is read-only")
    for words in (["--bind"], ["-o", "remount,ro,bind"]):
        subprocess.run(["mount", *words, folder, folder], check=True)
    try:
        yield
    finally:
        subprocess.run(["umount", folder], check=True)


def _read_only_site(at: Path) -> tuple[str, str]:
    with _read_only(at / "farm"):
        sheet = _rounds(at / "farm", "today")
        return sheet[:40] + _rounds(
            at / "farm", *FAULT
        ), r"Nothing can be kept: .*Nothing can be kept: records cannot be written\. Take"


def _read_only_share(at: Path) -> tuple[str, str]:
    (at / "stick").mkdir()
    with _read_only(at / "stick"):
        said = _rounds(at / "farm", "sync", "stick") + _rounds(at / "farm", "backup", "stick/x.zip")
    return said, r"cannot be written: take off its write protection.*cannot be written: take off"


def _no_share(at: Path) -> tuple[str, str]:
    return _rounds(at / "farm", "sync", "stick"), r"stick is not there: put the stick in or connect"


def _no_site(at: Path) -> tuple[str, str]:
    return _rounds(at / "gone", "today"), r"no site\.toml in gone: give the site's folder"


def _clock(days: float, wanted: str) -> Callable[[Path], tuple[str, str]]:
    def act(at: Path) -> tuple[str, str]:
        _rounds(at / "farm", *FAULT, days=max(days, 0))
        return _rounds(at / "farm", "today", days=min(days, 0)), wanted

    return act


def _damaged(at: Path) -> tuple[str, str]:
    path = max((at / "farm" / "records" / "sealed").glob("*/*.jsonl"))
    path.chmod(0o600)
    path.write_bytes(path.read_bytes().replace(b'"by":"', b'"by":"x', 1))
    said = _rounds(at / "farm", "today") + _rounds(at / "farm", "verify")
    return (
        said,
        r"rounds verify.*jsonl, line 1: does not match its hash|rounds verify.*line \d+: does",
    )


_AHEAD = r"Set the clock, if it is wrong: this laptop wrote on \d+ \w+ \d{4} at \d\d:\d\d already\."
_BEHIND = r"Set the clock before you write: it says [^,]* \d{4}, records go to [^,]* \d{4}\."
FAILURES: dict[str, Callable[[Path], tuple[str, str]]] = {
    "four programs write at once": _two_programs,
    "a cloned laptop syncs": _cloned,
    "a laptop put back to an old copy syncs": _restored,
    "a laptop restored from a backup": _from_backup,
    "a read-only site": _read_only_site,
    "a read-only stick": _read_only_share,
    "a stick that is not there": _no_share,
    "a site's folder that is not there": _no_site,
    "a clock that was a year ahead": _clock(365, _AHEAD),
    "a clock that was in 2106": _clock(365.25 * 80, _AHEAD),
    "a clock that goes a year back": _clock(-365, _BEHIND),
    "a damaged line": _damaged,
}
