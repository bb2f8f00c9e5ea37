"""`rounds slate` prints a sheet to write on; `rounds walk --read-at` types it in as of then."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

Run = Callable[..., Any]


def test_the_slate_fits_its_paper_and_names_every_place(rounds: Run, farm: Path) -> None:
    for width in (80, 120):
        ran = rounds("--site", farm, "slate", "first-light", "--width", str(width))
        assert (ran.code, ran.err) == (0, "")
        assert max(map(len, ran.out.splitlines())) <= width
    told = ran.out
    assert told.startswith("First light, Samphire House")
    for code in ("R1", "L1", "G4", "Q1", "P1"):
        assert re.search(rf"^{code}\b", told, re.MULTILINE)
    assert ".." not in told  # no unit, name or last answer is cut
    assert re.search(r"^PASS 1 .*oxygen.*\n .*mg/L", told, re.MULTILINE)
    assert "look: Look before you touch anything: how are they? 1 calm and spread" in told


def test_a_slate_says_what_it_cannot_print(rounds: Run, farm: Path) -> None:
    assert "there is no checklist dawn" in rounds("--site", farm, "slate", "dawn").err
    assert "--width is 20" in rounds("--site", farm, "slate", "--width", "20").err
    assert "must be like" in rounds("--site", farm, "slate", "--day", "soon").err
    row = rounds("--site", farm, "slate", "first-light", "--json").json["rows"][0]
    assert (row["place"], row["step"], row["aim"]) == ("R1", "temperature", "22 to 28")


def test_values_from_paper_keep_the_time_they_were_read(rounds: Run, farm: Path) -> None:
    walk = ("--site", farm, "--by", "ana", "walk", "fill", "--read-at")
    assert "is not a time" in rounds(*walk, "dawn").err
    ran = rounds(*walk, "00:00", typed="0\ny\nq\n")
    assert "kept" in ran.out
    written = "".join(path.read_text() for path in (farm / "records").rglob("*.jsonl"))
    mine = [line for line in written.splitlines() if '"measure":"chlorine"' in line]
    assert mine
    assert '"read_at":"' in mine[-1]


def test_a_slate_of_another_day_is_typed_in_and_a_time_far_off_is_asked_about(
    rounds: Run, farm: Path
) -> None:
    day = rounds("--site", farm, "today", "--json").json["at"][:10]
    before = str(date.fromisoformat(day) - timedelta(days=400))  # nobody walked then
    walk = ("--site", farm, "--by", "ana", "walk", "midday")
    assert "--read-at" in rounds(*walk, "--day", before).err
    dated = (*walk, "--read-at", "03:20", "--day", before)
    assert "is far from Midday, 11:00 to 13:30: is it meant?" in rounds(*dated, typed="n\n").out
    ran = rounds(*walk, "--read-at", "11:20", "--day", before, typed="6.5\nq\n")
    assert "kept" in ran.out
    lines = "".join(path.read_text() for path in (farm / "records").rglob("*.jsonl")).splitlines()
    (kept,) = [line for line in lines if f'"read_at":"{before}' in line and '"reading"' in line]
    assert '"value":"6.5"' in kept
    again = rounds(*walk, "--read-at", "11:25", "--day", before, typed="q\n")
    assert "30 steps, 29 open" in again.out
