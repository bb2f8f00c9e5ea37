"""A site loads into the model, or every problem is told at once, each with where and what."""

from __future__ import annotations

import subprocess
import sys

import pytest
from sites import GOOD, said, site, write

from rounds.site.files import digest
from rounds.site.loading import load
from rounds.site.reading import SiteErrors
from rounds.site.shipped import shipped


def test_quantities_come_with_and_without_a_unit(tmp_path):
    farm = site(tmp_path)
    assert farm.places["G1"].volume_m3 == 5.7
    assert farm.places["L1"].volume_m3 == 0.5
    assert farm.loops["A"].sump_volume_m3 == 1.8
    assert farm.products["BICARB"].purity == 0.99


def test_us_units(tmp_path):
    text = GOOD.replace('"5.7 m^3"', '"1500 gal"').replace('"6 m"', '"20 ft"')
    farm = load(write(tmp_path, text))
    assert farm.places["G1"].volume_m3 == pytest.approx(5.678117676)
    assert farm.elevation_m == pytest.approx(6.096)


def test_any_unit_pint_knows(tmp_path):
    farm = load(write(tmp_path, GOOD.replace('"5.7 m^3"', '"5.7 kiloliter"')))
    assert farm.places["G1"].volume_m3 == pytest.approx(5.7)


def test_a_normal_site_loads_without_pint():
    tell = (
        "import sys; from rounds.site.loading import load; from rounds.site.shipped import shipped;"
        "load(shipped('sample_site'));"
        "print([name for name in ('pint', 'textual', 'tinydb') if name in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", tell], capture_output=True, text=True)
    assert run.stdout.strip() == "[]", run.stderr


def test_every_problem_at_once(tmp_path):
    bad = """\
[site]
name = "Bad"
id = "SHORT"
timezone = "Atlantis/Center"
latitude = 138
longitude = -9.1
elevation = "6 kg"
colour = "blue"

[[loop]]
code = "A"
sump_volume = "a lot"
alkalinity_target = 120
salinity_target = 32
alkali = "BICRAB"

[[product]]
code = "BICARB"
kind = "alkali"
formula = "NaHCO4"
purity = 99

[[product]]
code = "PELLET"
kind = "food"

[[place]]
code = "G1"
kind = "tank"
loop = "B"
stage = "growout"
species = "red-drumm"
volumne = "5.7 m^3"

[[place]]
code = "g1"
kind = "house"

[[place]]
code = "tank no. 2"
kind = "store"
feed = "BICARB"

[[place.limits]]
measure = "oxigen"
act_low = 4

[[place.limits]]
measure = "oxygen"
act_low = 5
target_low = 4
hours = "all day"

[[valve]]
code = "V1"
where = "wall"
cards = ["flood"]

[[pump]]
code = "X"
"""
    write(tmp_path, bad)
    lines = said(tmp_path)
    for expected in (
        'site.toml, [site]: id = "SHORT": must be 8 small letters and digits',
        'site.toml, [site]: timezone = "Atlantis/Center": must be a time zone',
        "site.toml, [site]: latitude = 138: must be from -90 to 90",
        'site.toml, [site]: elevation = "6 kg": kg is a unit of mass, m of length',
        "site.toml, [site]: emergency: is missing: who to call",
        "site.toml, [site]: colour: unknown key: allowed: ",
        "site.toml, [[loop]] 1 (A): sump_volume = \"a lot\": 'a lot' is not a number with a unit",
        'site.toml, [[loop]] 1 (A): alkali = "BICRAB": must be a product of kind alkali: '
        "did you mean BICARB?",
        'site.toml, [[product]] 1 (BICARB): formula = "NaHCO4": did you mean NaHCO3?',
        "site.toml, [[product]] 1 (BICARB): purity = 99: must be from 0 to 1",
        'site.toml, [[product]] 2 (PELLET): kind = "food": allowed: feed, ',
        'site.toml, [[place]] 1 (G1): loop = "B": must be a loop of this site: allowed: A',
        'site.toml, [[place]] 1 (G1): stage = "growout": did you mean grow-out?',
        'site.toml, [[place]] 1 (G1): species = "red-drumm": must be a species of this site: '
        "did you mean red-drum?",
        "site.toml, [[place]] 1 (G1): volume: is missing: a tank needs its water volume",
        "site.toml, [[place]] 1 (G1): volumne: unknown key: did you mean volume?",
        'site.toml, [[place]] 2 (g1): code = "g1": is there twice',
        'site.toml, [[place]] 3 (tank no. 2): code = "tank no. 2": must be 1 to 12 of the letters',
        'site.toml, [[place]] 3 (tank no. 2): feed = "BICARB": must be a product of kind feed',
        "site.toml, [[place]] 3 (tank no. 2), [[limits]] 1 (oxigen): measure = "
        '"oxigen": did you mean oxygen?',
        "site.toml, [[place]] 3 (tank no. 2), [[limits]] 2 (oxygen): target_low = 4.0: "
        "must not be below act_low = 5",
        'site.toml, [[place]] 3 (tank no. 2), [[limits]] 2 (oxygen): hours = "all day": '
        "must be hours of the day",
        'site.toml, [[valve]] 1 (V1): cards = "flood": ',
        "site.toml, [[valve]] 1 (V1): does: is missing",
        "site.toml: pump: unknown key: allowed: limits, loop, ",
    ):
        found = [line for line in lines if line.startswith(expected)]
        assert len(found) == 1, (expected, lines)
        lines.remove(found[0])
    assert lines == []


def test_no_site_here(tmp_path):
    assert said(tmp_path) == [
        "site.toml: is not here: go to a site's folder, or make one with rounds start"
    ]


@pytest.mark.parametrize(
    ("content", "starts"),
    [
        (b"[site\nname = 1", "site.toml, line 1: cannot be read as TOML: "),
        (b"[site]\nname = 'x'\nname = 'y'\n", "site.toml, line 3: cannot be read as TOML: "),
        (b"[site]\nname = '\xff'", "site.toml: must be saved as UTF-8 text"),
        (b"x = " + b"9" * 5000, "site.toml, at its end: cannot be read as TOML: "),
        (b"x = " + b"[" * 5000, "site.toml, at its end: cannot be read as TOML: "),
    ],
)
def test_what_is_no_toml(tmp_path, content, starts):
    (tmp_path / "site.toml").write_bytes(content)
    (line,) = said(tmp_path)
    assert line.startswith(starts)


def test_problems_beside_a_broken_site_file_are_told_too(tmp_path):
    write(tmp_path, "[site\n", evening='title = "x"')
    lines = said(tmp_path)
    assert lines[0].startswith("site.toml, line 1: ")
    assert (
        "checklists/evening.toml: step: is missing: a checklist has one [[step]] or more" in lines
    )


def test_what_cannot_be_read_is_a_problem_too(tmp_path, monkeypatch):
    (write(tmp_path) / "checklists" / "own.toml").mkdir(parents=True)
    (line,) = said(tmp_path)
    assert line.startswith("checklists/own.toml: cannot be read: ")

    def refuse(folder):
        raise PermissionError(13, "Permission denied", "feeds/maker.csv")

    monkeypatch.setattr("rounds.site.loading.digest", refuse)
    (line,) = said(tmp_path)
    assert line == "feeds/maker.csv: cannot be read: Permission denied"


def test_problems_come_in_a_readers_order(tmp_path):
    text = GOOD.replace("38.4", '"38 N"').replace('"red-drum"', '"x"').replace("99 %", "999 %")
    lines = said(write(tmp_path, text))
    assert lines[0] == 'site.toml, [site]: latitude = "38 N": must be a number'
    assert [line.split(" ")[1] for line in lines] == ["[site]:", "[[product]]", *["[[place]]"] * 2]


@pytest.mark.parametrize(
    ("old", "new", "part"),
    [
        ('volume = "5.7 m^3"', "volume = true", "volume = true: must be a number in m^3"),
        ('volume = "5.7 m^3"', "volume = [1]", "volume = [1]: must be a number in m^3"),
        ('volume = "5.7 m^3"', "volume = -1", "volume = -1: must be from 0.0001 to 1e+06 m^3"),
        ('volume = "5.7 m^3"', "volume = nan", "volume = nan: nan is not a finite number"),
        ('volume = "5.7 m^3"', f"volume = 1{'0' * 400}", "must be from 0.0001 to 1e+06 m^3"),
        ('volume = "5.7 m^3"', 'volume = "5 florps"', "unit 'florps' cannot be read as m^3"),
        ('volume = "5.7 m^3"', "volume = 5.7\nzone = 3.5", "zone = 3.5: must be a whole number"),
        ('volume = "5.7 m^3"', 'volume = 5.7\ntest_point = "x"', "must be true or false"),
        ('name = "Test farm"', "name = 3", "name = 3: must be a text in quotes"),
        ('name = "Test farm"', 'name = " "', 'name = " ": must not be empty'),
        ('name = "Test farm"', 'name = "x"\nph_buffers = "NBS"', "did you mean nbs?"),
        ('[[place]]\ncode = "P1"', '[place2]\ncode = "P1"', "place2: unknown key"),
        ('code = "P1"', 'code = "pond"', "is a word of its own"),
    ],
)
def test_one_wrong_value_is_one_problem(tmp_path, old, new, part):
    (line,) = said(write(tmp_path, GOOD.replace(old, new, 1)))
    assert part in line


def test_an_array_written_as_a_table(tmp_path):
    text = GOOD.replace('[[loop]]\ncode = "A"', '[loop]\ncode = "A"')
    assert "site.toml: loop = " in said(write(tmp_path, text))[0]


def test_hostile_text_is_harmless_in_the_model_and_in_problems(tmp_path):
    evil = "\\u001b[2J\\u202eTank"
    text = GOOD.replace('code = "G1"', f'code = "G1"\nname = "{evil}"')
    name = load(write(tmp_path, text)).places["G1"].name
    assert "\x1b" not in name
    assert "\u202e" not in name
    (line,) = said(write(tmp_path, GOOD.replace('code = "G1"', f'code = "{evil}"')))
    assert "\x1b" not in line
    assert "\u202e" not in line


def test_a_problem_carries_its_parts(tmp_path):
    with pytest.raises(SiteErrors) as error:
        load(write(tmp_path, GOOD.replace("138", "1").replace('"5.7 m^3"', '"x"')))
    (problem,) = error.value.problems
    assert (problem.file, problem.table, problem.key) == ("site.toml", "[[place]] 1 (G1)", "volume")
    assert str(problem) in str(error.value)


def test_each_loop_has_a_test_point(tmp_path):
    farm = site(tmp_path)
    assert [place.code for place in farm.places.values() if place.test_point] == ["G1"]
    named = GOOD.replace('code = "L1"', 'code = "L1"\ntest_point = true')
    farm = load(write(tmp_path, named))
    assert [place.code for place in farm.places.values() if place.test_point] == ["L1"]


def test_walking_order_is_the_files_and_zones_rise_from_clean_to_dirty():
    farm = load(shipped("sample_site"))
    codes = list(farm.places)
    assert codes[:2] == ["HOUSE", "STORE"]
    tanks = [place for place in farm.places.values() if place.kind in ("culture", "tank", "pond")]
    assert [place.zone for place in tanks] == sorted(place.zone for place in tanks)


def test_digest_follows_every_file(tmp_path):
    folder = write(tmp_path)
    seen = {digest(folder)}
    (folder / "feeds").mkdir()
    (folder / "feeds" / "x.csv").write_text("1")
    seen.add(digest(folder))
    (folder / "feeds" / "x.csv").rename(folder / "feeds" / "y.csv")
    seen.add(digest(folder))
    write(folder, GOOD + "\n")
    seen.add(digest(folder))
    assert len(seen) == 4
    assert all(len(one) == 16 for one in seen)
    (folder / "records").mkdir()
    (folder / "records" / "a.jsonl").write_text("x")
    assert digest(folder) in seen
    assert load(folder).digest == digest(folder)


def test_the_sample_farm_is_said_to_be_invented():
    farm = load(shipped("sample_site"))
    assert "nvented" in farm.notice
    assert "invented" in (shipped("sample_site") / "README.md").read_text("utf-8")
    tanks = [place for place in farm.places.values() if place.kind == "tank"]
    assert len(tanks) == 10
    assert {place.stage for place in tanks} == {"larval", "nursery", "grow-out", "quarantine"}
    assert {place.loop for place in tanks} == {"A", "B"}
