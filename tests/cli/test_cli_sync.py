"""`rounds sync`: a file that was refused is told, and "all" is said of no more than the rest."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

Run = Callable[..., Any]


def test_a_refused_file_is_told_and_not_all_is_written(
    rounds: Run, farm: Path, tmp_path: Path
) -> None:
    other = Path(shutil.copytree(farm, tmp_path / "other"))
    stick = tmp_path / "stick"
    stick.mkdir()
    known = {path.name for path in (farm / "records").rglob("*.jsonl")}
    rounds("--site", farm, "--by", "ana", "walk", "live-food", typed="320\ny\n31\ny\n200\ny\n")
    assert "\nAll is written" in rounds("--site", farm, "sync", stick).out
    (sent,) = [path for path in stick.rglob("*.jsonl") if path.name not in known]
    sent.chmod(0o600)
    sent.write_bytes(sent.read_bytes().replace(b'"320"', b'"321"'))
    for words in ("was not taken", "refused before"):
        ran = rounds("--site", other, "sync", stick)
        assert words in ran.out
        assert "All is written" not in ran.out
        assert "OK" not in ran.out


def _stranger(rounds: Run, farm: Path, tmp_path: Path, monkeypatch: Any) -> Path:
    """Let a second laptop write on a copy of the farm and put it on a stick."""
    other = Path(shutil.copytree(farm, tmp_path / "other"))
    with (other / "site.toml").open("a") as file:
        file.write("# another version\n")
    (stick := tmp_path / "stick").mkdir()
    with monkeypatch.context() as patch:
        patch.setenv("ROUNDS_STATE", str(tmp_path / "state-of-another"))
        rounds("--site", other, "--by", "rui", "walk", "live-food", typed="320\ny\n31\ny\n200\ny\n")
        assert rounds("--site", other, "sync", stick).code == 0
    return stick


def test_a_new_laptop_is_told_and_taken_in_by_one_command(
    rounds: Run, farm: Path, tmp_path: Path, monkeypatch: Any
) -> None:
    stick = _stranger(rounds, farm, tmp_path, monkeypatch)
    ran = rounds("--site", farm, "sync", stick)
    assert ran.code == 1
    assert "by Rui" in " ".join(ran.out.split())
    writer = rounds("--site", farm, "sync", stick, "--json").json["rows"][0]["newcomers"][0]
    took = rounds("--site", farm, "sync", "--enrol", writer["writer"])
    assert (took.code, "belongs" in took.out) == (0, True)
    assert rounds("--site", farm, "sync", stick).code == 0
    assert rounds("--site", farm, "sync", "--enrol", writer["writer"]).code == 2
    said = " ".join(rounds("--site", farm, "--by", "ana", "handoff", "--look").out.split())
    assert f"Laptop {writer['writer']} works with other site files" in said


def test_a_retired_laptop_is_awaited_no_more_and_no_place_until_it_writes(
    rounds: Run, farm: Path, tmp_path: Path
) -> None:
    (tmp_path / "share").mkdir()
    rounds("--site", farm, "--by", "ana", "walk", "live-food", typed="320\ny\n31\ny\n200\ny\n")
    others = [one.name for one in (farm / "records" / "sealed").iterdir()]
    before = rounds("--site", farm, "--by", "ana", "handoff", "--look").out
    gone = next(writer for writer in others if f"laptop {writer}" in before)
    asked = ("--site", farm, "--by", "ana", "sync", "--retire")
    assert rounds(*asked, "zzzzzz").code == 2
    assert rounds(*asked, gone).code == 0
    assert "already" in rounds(*asked, gone).err
    assert f"laptop {gone}" not in rounds("--site", farm, "--by", "ana", "handoff", "--look").out
    ran = rounds("--site", farm, "sync", tmp_path / "share")
    assert "safe in" in ran.out
    assert not [line for line in ran.out.splitlines() if "safe in" in line and gone in line]
    rows = rounds("--site", farm, "export", tmp_path / "laptops", "--kinds", "laptop")
    assert rows.code == 0
    table = (tmp_path / "laptops" / "laptop.csv").read_text("utf-8")
    assert f"{gone},retired" in table


def test_without_an_address_all_of_the_site_are_synced(
    rounds: Run, farm: Path, tmp_path: Path
) -> None:
    assert rounds("--site", farm, "sync").code == 2
    (tmp_path / "share").mkdir()
    tables = "".join(
        f'\n[[sync]]\nname = "{name}"\naddress = "{tmp_path / name}"\n'
        for name in ("stick", "share")
    )
    with (farm / "site.toml").open("a") as file:
        file.write(tables)
    ran = rounds("--site", farm, "sync")
    assert ran.code == 0
    assert "stick: does not answer" in ran.out
    assert "safe in" in ran.out
    rows = rounds("--site", farm, "sync", "--json").json["rows"]
    assert [(row["name"], row["report"] is None) for row in rows] == [
        ("stick", True), ("share", False),
    ]  # fmt: skip
    assert rounds("--site", farm, "sync", "share").code == 0
    (tmp_path / "share").rename(tmp_path / "away")
    assert rounds("--site", farm, "sync").code == 2


def test_what_site_files_would_change_is_told(rounds: Run, farm: Path) -> None:
    assert "work with the site files of this one" in rounds("--site", farm, "sync", "--adopt").out
    assert rounds("--site", farm, "sync", "--adopt", "ffffff").code == 2


def test_the_lines_that_site_files_change_are_told_before_they_are_taken_over(
    rounds: Run, farm: Path, tmp_path: Path
) -> None:
    (tmp_path / "share").mkdir()
    assert rounds("--site", farm, "sync", tmp_path / "share").code == 0
    before = (farm / "site.toml").read_text("utf-8")
    (farm / "site.toml").write_text(before.replace("volume = ", "volume  = ", 1), "utf-8")
    listed = rounds("--site", farm, "sync", "--adopt").out
    changed = next(line for line in before.splitlines() if "volume = " in line)
    assert f"+ {changed.split(' #')[0]}" in listed
    assert f"- {changed.split(' #')[0].replace('volume = ', 'volume  = ')}" in listed
    digest = listed.split("--adopt ")[1].split()[0]
    assert rounds("--site", farm, "sync", "--adopt", digest).code == 0
    assert (farm / "site.toml").read_text("utf-8") == before


def test_the_help_shows_its_whole_sentence(rounds: Run) -> None:
    said = " ".join(rounds("sync", "--help").out.split())
    assert "left out, every address that site.toml names" in said
