"""`rounds record` keeps what happened, and says in one sentence why it does not."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

STOCK = ("place=T1", "lot=RD-30", "count=400", "weight=4.2 g", "origin=own larvae")


@pytest.fixture
def run(rounds: Run, tmp_path: Path) -> Run:
    """Run a command on a farm just made with `rounds start`."""
    assert rounds("start", "mine").code == 0
    return lambda *asked, **given: rounds("--site", "mine", "--by", "me", *asked, **given)


def test_a_started_farm_is_stocked_and_has_a_ration(run: Run) -> None:
    ran = run("record", "stocked", *STOCK)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out == "Kept: RD-30: 400 fish of 4.2 g into T1, own larvae.\n"
    (ration,) = run("ration", "--json").json["rows"]
    assert (ration["place"], ration["count"]) == ("T1", 400)


def test_alone_it_lists_every_form_with_what_the_site_offers(run: Run) -> None:
    told = run("record").out
    assert "stocked: fish came in" in told
    assert "weight=    Mean weight of one fish, in g or with its unit" in told
    assert "where=     Where; left out, the whole farm: T1, F1, loop A (may be left out)" in told
    assert all(len(line) <= 80 for line in told.splitlines())
    rows = {row["form"]: row["keys"] for row in run("record", "--json").json["rows"]}
    assert [key["name"] for key in rows["moved"]] == [
        "lot", "from", "to", "count", "mass", "permit"
    ]  # fmt: skip
    assert rows["stocked"][0]["offers"] == ["T1"]


def test_a_fault_and_its_repair_are_kept_as_json(run: Run) -> None:
    (row,) = run("record", "fault", "about=pump", "where=A", "--json").json["rows"]
    assert (row["kept"], row["says"]) == (True, "fault began: pump, loop A")
    assert run("record", "repaired", "fault=pump, loop A").code == 0
    assert "no fault is open" in run("record", "repaired", "fault=pump").err


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (("flew",), "there is no form flew: stocked, moved"),
        (("stocked", "T1"), "T1 is not key=value: place= lot= count= [estimated=]"),
        (("stocked", "place=T1", "place=T1"), "place is given twice"),
        (("stocked", *STOCK[:3], "weight=4.2 ft", STOCK[4]), "ft is not a unit of mass"),
        (("removed", "place=T1"), "no fish are on record: record fish that came in first"),
        (("stocked", *STOCK[:3], "weight=42 kg", STOCK[4]), "If it is right, add --confirm"),
    ],
)
def test_what_cannot_be_kept_is_one_sentence(run: Run, asked: tuple[str, ...], says: str) -> None:
    ran = run("record", *asked)
    assert (ran.code, ran.out) == (2, "")
    assert says in ran.err
    assert ran.err.count("\n") == 1


def test_what_is_meant_is_kept_and_somebody_must_be_named(run: Run, rounds: Run) -> None:
    asked = ("stocked", *STOCK[:3], "weight=42 kg", STOCK[4])
    assert run("record", *asked, "--confirm").code == 0
    assert "say who writes" in rounds("--site", "mine", "record", "stocked", *STOCK).err


def test_a_walk_asks_what_the_dead_died_of_from_the_sites_list(run: Run) -> None:
    assert run("record", "stocked", *STOCK).code == 0
    Path("mine/checklists").mkdir(exist_ok=True)
    Path("mine/checklists/dead.toml").write_text(
        'title = "The dead"\nvisits = ["tank"]\ndue = "after event"\n'
        'window = "00:00-23:59"\n\n[[step]]\ncode = "dead"\n'
        'pass = 1\nask = "How many dead?"\nanswer = "count"\nhow = "Count."\nwhy = "Data."\n',
        "utf-8",
    )
    causes = "1 unknown, 2 injury, 3 jumped"
    ran = run("walk", "dead", typed="1\n2\n")
    assert "1 dead: what of? Enter leaves it open." in ran.out
    assert causes in ran.out
    (line,) = [one for one in book(Path("mine")) if '"kind":"died"' in one]
    assert '"cause":"injury"' in line
    assert "not on the list: left open" in run("walk", "dead", typed="1\nfright\n").out
    assert "dead: what of" in run("walk", "dead", typed="2\ny\n").out  # no more input: still kept
    assert [one for one in book(Path("mine")) if '"count":2' in one and '"kind":"died"' in one]


def book(site: Path) -> list[str]:
    return [
        line
        for file in sorted((site / "records").rglob("*.jsonl"))
        for line in file.read_text("utf-8").splitlines()
    ]


def test_people_are_signed_off_and_the_list_says_for_what(run: Run, tmp_path: Path) -> None:
    assert "Nobody is learning" in run("record", "signed").out
    site = next(tmp_path.rglob("site.toml"))
    learner = '[[person]]\ncode = "ines"\nname = "Ines"\nrole = "student"\n'
    text = site.read_text("utf-8").replace('role = "technician"', 'role = "supervisor"')
    site.write_text(f"{text}\n{learner}", "utf-8")
    asked = ("record", "signed", "person=ines", "task=first-light", "level=done with")
    assert run(*asked).out == "Kept: ines: first-light, done with.\n"
    assert "done with: First light (" in run("record", "signed").out
    rows = run("record", "signed", "--json").json["rows"]
    assert [r["level"] for r in rows if r["task"] == "first-light"] == ["done with"]
    again = run(*asked)
    assert (again.code, "has that already" in again.err) == (2, True)


def test_a_matter_is_opened_and_settled(run: Run) -> None:
    keys = ("text=valve ordered", "where=T1", "about=ph", "until=24 h", "again=above 8.4")
    assert run("record", "matter", *keys).out.startswith("Kept: open: T1 ph: valve ordered")
    refused = run("record", "matter", *keys[:3])
    assert (refused.code, "say until when" in refused.err) == (2, True)
    settled = run("record", "settled", "matter=T1 pH: valve ordered", "text=fitted")
    assert settled.out == "Kept: settled: fitted.\n"
    assert "no matter is open" in run("record", "settled", "matter=x").err


def test_what_was_recorded_yesterday_is_listed_and_taken_back(rounds: Run, farm: Path) -> None:
    def at(*words: str) -> Any:
        return rounds("--site", farm, "--by", "ana", "record", "mistake", *words)

    rows = [row["entry"] for row in at("--json").json["rows"]]
    wrong = next(row for row in rows if "weighed in" in row)
    begins = wrong.partition(" RD-")[0]
    assert begins in at().out
    assert "begins with" in at("entry=1 Jan 00:00", "why=x").err
    taken = at(f"entry={begins}", "why=wrong net")
    assert (
        taken.out.replace("\n  ", " ")
        == f"Kept: taken back {wrong[len(begins) + 1 :]}: wrong net.\n"
    )
    left = [row["entry"] for row in at("--json").json["rows"]]
    assert wrong not in left
    assert set(rows) - {wrong} <= set(left)
