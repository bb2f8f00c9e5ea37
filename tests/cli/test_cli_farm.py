"""Commands on a farm: what they print, write and refuse; readers write nothing."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

READERS = (
    ("today",), ("walk", "--json"), ("ration",), ("ration", "G1"), ("dose", "alkalinity", "B"),
    ("dose", "salt", "A"), ("dose", "exchange", "A"), ("dose", "topup", "A"), ("check",),
    ("verify",), ("handoff", "--look"), (),
)  # fmt: skip


def _tree(folder: Path) -> str:
    digest = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if path.relative_to(folder).parts[0] == "cache":  # can be made again at will
            continue
        digest.update(path.relative_to(folder).as_posix().encode())
        if path.is_file():
            digest.update(path.read_bytes())
    return digest.hexdigest()


@pytest.mark.parametrize("command", READERS, ids=" ".join)
def test_readers_write_nothing_and_fit_80_columns(
    rounds: Run, made: Path, command: tuple[str, ...]
) -> None:
    before = _tree(made)
    ran = rounds("--site", made, *command)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out
    assert "\x1b" not in ran.out
    if "--json" not in command:
        assert [line for line in ran.out.splitlines() if len(line) > 80] == []
    assert _tree(made) == before


@pytest.mark.parametrize("command", READERS, ids=" ".join)
def test_json_has_the_form_that_never_changes(
    rounds: Run, made: Path, command: tuple[str, ...]
) -> None:
    ran = rounds("--site", made, "--json", *command)
    assert ran.code == 0
    assert list(ran.json) == ["format", "site", "at", "command", "rows"]
    assert ran.json["format"] == 1
    assert len(ran.json["site"]) == 8
    assert ran.json["at"].endswith("Z")
    assert ran.json["command"] == (command[0] if command else "today")
    assert isinstance(ran.json["rows"], list)
    _lists_of_strings(ran.json["rows"])


def _lists_of_strings(value: object) -> None:
    """Hold reasons, cautions and refused to lists of strings, wherever they are."""
    if isinstance(value, list):
        for one in value:
            _lists_of_strings(one)
    elif isinstance(value, dict):
        for key, one in value.items():
            if key in ("reasons", "cautions", "refused"):
                assert isinstance(one, list)
                assert all(isinstance(line, str) for line in one)
            elif key == "verdict":
                assert one in ("ok", "watch", "act", "unknown")
            else:
                _lists_of_strings(one)


# -- where and who ---------------------------------------------------------------------------------


def test_site_is_found_above_the_current_folder(
    rounds: Run, farm: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(farm / "records")
    assert rounds("check").code == 0
    monkeypatch.chdir(farm.parent)
    ran = rounds("check")
    assert ran.code == 2
    assert "--site" in ran.err
    monkeypatch.setenv("ROUNDS_SITE", str(farm))
    assert rounds("check").code == 0


@pytest.mark.parametrize("by", [(), ("--by", "nobody")])
def test_writers_need_a_person_of_the_site(rounds: Run, farm: Path, by: tuple[str, ...]) -> None:
    before = _tree(farm)
    ran = rounds("--site", farm, *by, "walk", "life-support", typed="1\n")
    assert ran.code == 2
    assert "ana, rui, ines" in ran.err
    assert _tree(farm) == before


def test_broken_site_is_one_sentence_and_check_tells_all_of_it(rounds: Run, farm: Path) -> None:
    file = farm / "site.toml"
    text = file.read_text("utf-8")
    file.write_text(text.replace('kind = "tray"', 'kind = "trey"').replace("[[loop]]", "[[lop]]"))
    ran = rounds("--site", farm, "today")
    assert ran.code == 2
    assert ran.err.count("\n") == 1
    told = rounds("--site", farm, "check")
    assert told.code == 1
    assert told.out.count("trey") == 2
    assert "lop" in told.out
    assert rounds("--site", farm, "check", "--json").code == 1


# -- walk ------------------------------------------------------------------------------------------


def test_walk_keeps_skips_notes_corrects_and_goes_on(rounds: Run, farm: Path) -> None:
    typed = (
        "mains\n"  # by its word
        "s 2\n"  # the second reason of the site
        "m smells of rain\n"
        "2140\n"  # cannot be
        "21,4\nn\n"  # odd, typed again
        "214,0\n"
        "b\nb\nb\n2\ny\nlamp was on\n"  # back to power: another choice, and why
        "q\n"
    )
    ran = rounds("--site", farm, "--by", "ana", "walk", "life-support", typed=typed)
    assert (ran.code, ran.err) == (0, "")
    assert "kept  OK" in ran.out
    assert "skipped: instrument broken" in ran.out
    assert "note kept" in ran.out
    assert "2140 mbar cannot be" in ran.out
    assert "decimal point? 214" in ran.out
    assert "! WATCH" in ran.out
    assert "goes on exactly here" in ran.out

    again = rounds("--site", farm, "--by", "ana", "walk", typed="q\n")
    assert "Going on with House and life support" in again.out
    assert "Do all pumps run" in again.out
    assert "Pressure in the air line" not in again.out
    assert rounds("--site", farm, "verify").code == 0


def test_walk_with_no_input_is_left_and_nothing_is_lost(rounds: Run, farm: Path) -> None:
    rounds("--site", farm, "--by", "rui", "walk", "life-support", typed="1\n1\n")
    rows = rounds("--site", farm, "walk", "--json").json["rows"]
    row = next(row for row in rows if row["checklist"] == "life-support")
    assert (row["done"], row["state"]) == (2, "open")


def test_whole_round_by_pipe_is_done(rounds: Run, farm: Path) -> None:
    ran = rounds(
        "--site", farm, "--by", "ana", "walk", "live-food", typed="320\ny\n31\ny\n200\ny\n"
    )
    assert "Round done: 3 steps kept, 0 skipped." in ran.out


def test_unknown_checklist_is_named(rounds: Run, farm: Path) -> None:
    ran = rounds("--site", farm, "--by", "ana", "walk", "nightly")
    assert ran.code == 2
    assert "first-light" in ran.err


def test_a_fill_is_walked_whenever_it_happens(rounds: Run, farm: Path) -> None:
    typed = "0\n23,5\ny\n0,3\ny\n"
    ran = rounds("--site", farm, "--by", "ana", "walk", "fill", typed=typed)
    assert "Round done: 3 steps kept" in ran.out, ran.out
    again = rounds("--site", farm, "--by", "ana", "walk", "fill", typed="q\n")
    assert "3 steps, 3 open" in again.out


# -- what cannot be read, what is not filled in ----------------------------------------------------


def test_lines_that_cannot_be_read_are_told_on_the_sheet_and_the_hand_off(
    rounds: Run, farm: Path
) -> None:
    assert "could not be read" not in rounds("--site", farm, "today").out
    sealed = sorted((farm / "records" / "sealed").rglob("*.jsonl"))[0]
    lines = sealed.read_bytes().split(b"\n")
    lines[3] = b"{" + lines[3][:20]
    sealed.write_bytes(b"\n".join(lines))
    for command in (("today",), ("handoff", "--look")):
        out = rounds("--site", farm, *command).out
        assert re.search(
            r"^\d lines? or files? of the records could not be read or found: rounds verify$",
            out,
            re.MULTILINE,
        ), out
    row = rounds("--site", farm, "today", "--json").json["rows"][0]
    assert "could not be read" in row["unread"]
    assert rounds("--site", farm, "verify").code == 1


def test_records_that_cannot_be_written_are_told_before_anything_is_asked(
    rounds: Run, farm: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "access", lambda place, mode: "records" not in str(place))
    told = "Nothing can be kept: records cannot be written. Take off its write protection"
    assert " ".join(rounds("--site", farm, "today").out.split()).startswith(told)
    ran = rounds("--site", farm, "--by", "ana", "walk", "first-light", typed="")
    assert (ran.code, ran.out) == (2, "")
    assert told in ran.err


def test_a_site_just_made_is_counted_in_words_and_says_it_is_not_filled_in(
    rounds: Run, tmp_path: Path
) -> None:
    rounds("start", tmp_path / "new")
    out = rounds("--site", tmp_path / "new", "check").out
    assert "3 places, 1 loop, " in out
    for command in ("check", "today"):
        assert "Not filled in yet: measure the volumes" in (
            rounds("--site", tmp_path / "new", command).out
        )


# -- hand-off --------------------------------------------------------------------------------------


def test_hand_off_is_signed_kept_twice_and_taken_over_by_name(rounds: Run, farm: Path) -> None:
    first = rounds("--site", farm, "--by", "ana", "handoff", "--to", "rui", "--say", "pump hums")
    assert first.code == 0
    assert "pump hums" in first.out
    assert "Signed by ana" in first.out
    second = rounds("--site", farm, "--by", "ana", "handoff")
    papers = sorted(path.name for path in (farm / "reports").iterdir())
    assert len(papers) == 2
    assert "pump hums" in (farm / "reports" / papers[0]).read_text("utf-8")
    assert papers[1] in second.out
    taken = rounds("--site", farm, "--by", "rui", "handoff", "--take")
    assert taken.code == 0
    assert "Open: Send two dead fish to the vet" in taken.out
    assert taken.out.endswith("Taken over by rui.\n")
    again = rounds("--site", farm, "--by", "ines", "handoff", "--take")
    assert again.code == 2
    assert "taken over already" in again.err


def test_a_hand_off_whose_file_cannot_be_written_says_that_it_is_signed(
    rounds: Run, farm: Path
) -> None:
    (farm / "reports").write_text("in the way", "utf-8")
    ran = rounds("--site", farm, "--by", "ana", "handoff", "--say", "pump hums")
    assert ran.code == 2
    assert "signed and kept in the book, do not sign again" in ran.err
    assert "pump hums" in rounds("--site", farm, "--by", "rui", "handoff", "--take").out


def test_nobody_reads_a_hand_off_before_it_is_refused(rounds: Run, farm: Path) -> None:
    rounds("--site", farm, "--by", "ana", "handoff")
    ran = rounds("--site", farm, "--by", "ana", "handoff", "--take")
    assert (ran.code, ran.out) == (2, "")
    assert "your own" in ran.err


def test_hand_off_to_a_stranger_is_refused_and_not_written(rounds: Run, farm: Path) -> None:
    before = _tree(farm / "records" / "sealed")
    ran = rounds("--site", farm, "--by", "ana", "handoff", "--to", "nobody")
    assert ran.code == 2
    assert "ana, rui, ines" in ran.err
    assert _tree(farm / "records" / "sealed") == before
    assert not (farm / "reports").exists()


def test_site_in_us_units_prints_them(rounds: Run, farm: Path) -> None:
    file = farm / "site.toml"
    text = file.read_text("utf-8")
    file.write_text(text.replace('display_units = "metric"', 'display_units = "us"'), "utf-8")
    assert "Mass lb" in rounds("--site", farm, "ration", "G1").out
    assert " gal" in rounds("--site", farm, "dose", "alkalinity", "A").out.splitlines()[0]
    walk = rounds("--site", farm, "--by", "ana", "walk", "first-light", typed="q\n")
    assert "Water temperature, degF" in walk.out


# -- sync, verify, start, sample -------------------------------------------------------------------


def test_sync_carries_a_round_to_another_laptop(rounds: Run, farm: Path, tmp_path: Path) -> None:
    other = Path(shutil.copytree(farm, tmp_path / "other"))
    stick = tmp_path / "stick"
    stick.mkdir()
    rounds("--site", farm, "--by", "ana", "walk", "live-food", typed="320\ny\n31\ny\n200\ny\n")
    sent = rounds("--site", farm, "sync", stick)
    assert sent.code == 0
    said = " ".join(sent.out.split())
    assert "All is written and read back. ! It lies on the disk of the site itself" in said
    assert "safe in 1 place: this laptop" in said
    fetched = rounds("--site", other, "sync", stick, "--json")
    (new,) = fetched.json["rows"][0]["newcomers"]
    assert rounds("--site", other, "sync", "--enrol", new["writer"]).code == 0
    rows = rounds("--site", other, "walk", "--json").json["rows"]
    assert next(r for r in rows if r["checklist"] == "live-food")["state"] == "done"


def test_sync_without_a_stick_is_one_sentence(rounds: Run, farm: Path, tmp_path: Path) -> None:
    ran = rounds("--site", farm, "sync", tmp_path / "nowhere")
    assert ran.code == 2
    assert "put the stick in" in ran.err
    assert ran.err.count("\n") == 1


def test_verify_names_the_changed_file_and_line(rounds: Run, farm: Path) -> None:
    path = sorted((farm / "records" / "sealed").rglob("*.jsonl"))[0]
    lines = path.read_bytes().splitlines(keepends=True)
    lines[4] = lines[4].replace(b'"by":"', b'"by":"x', 1)
    path.chmod(0o600)
    path.write_bytes(b"".join(lines))
    ran = rounds("--site", farm, "verify")
    assert ran.code == 1
    assert f"{path.parent.name}/{path.name}, line 5" in ran.out.replace("\n  ", "")
    assert rounds("--site", farm, "verify", "--json").code == 1


def test_verify_tells_what_a_copied_laptop_left_as_a_note_and_ends_well(
    rounds: Run, farm: Path
) -> None:
    path = sorted((farm / "records" / "sealed").rglob("*.jsonl"))[0]
    data = b"".join(path.read_bytes().splitlines(keepends=True)[:-1])
    digest = hashlib.sha256(data).hexdigest()[:32]
    path.with_name(f"{path.name[:16]}{digest}.jsonl").write_bytes(data)
    ran = rounds("--site", farm, "verify")
    assert ran.code == 0
    assert "Explained, no damage:" in ran.out
    assert "copied or restored" in ran.out.replace("\n    ", " ")
    (row,) = rounds("--site", farm, "verify", "--json").json["rows"]
    assert (row["findings"], len(row["notes"])) == ([], 1)


def test_started_site_passes_check_and_is_not_started_twice(rounds: Run, tmp_path: Path) -> None:
    assert rounds("start", tmp_path / "mine").code == 0
    assert rounds("--site", tmp_path / "mine", "check").code == 0
    again = rounds("start", tmp_path / "mine")
    assert again.code == 2
    assert again.err.count("\n") == 1


def test_sample_opens_without_a_terminal_as_todays_sheet_again_and_again(
    rounds: Run, farm: Path, tmp_path: Path
) -> None:
    sheet = rounds("sample", farm, "--open")
    assert (sheet.code, sheet.err) == (0, "")
    assert "Samphire House" in sheet.out
    assert rounds("sample", farm).code == 2
    ran = rounds("sample", tmp_path / "new", "--days", "2", "--ending", "2026-11-23", "--json")
    assert ran.json["rows"][0]["name"] == "Samphire House"


@pytest.mark.parametrize("option", [("--days", "0"), ("--ending", "tomorrow"), ("--days", "x")])
def test_bad_sample_is_one_sentence(rounds: Run, tmp_path: Path, option: tuple[str, str]) -> None:
    ran = rounds("sample", tmp_path / "new", *option)
    assert ran.code == 2
    assert ran.err.count("\n") == 1
    assert not (tmp_path / "new").exists()
