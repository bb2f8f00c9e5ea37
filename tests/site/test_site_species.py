"""Species profiles: each value with its source, tighter for larvae, and a site's to change."""

from __future__ import annotations

import tomllib
from itertools import pairwise

import pytest
from sites import GOOD, said, site, write

from rounds.site.loading import load
from rounds.site.shipped import shipped

FILES = sorted(shipped("species").glob("*.toml"))
VALUES = (
    "feeding_low",
    "optimum_low",
    "optimum_high",
    "upper_limit",
    "fcr",
    "market_weight",
    "meals",
    "density",
)


@pytest.mark.parametrize("code", [path.stem for path in FILES])
def test_every_value_has_its_source_and_every_limit_says_what_to_do(tmp_path, code):
    said_itself = tomllib.loads((shipped("species") / f"{code}.toml").read_text("utf-8"))
    assert said_itself["code"] == code
    assert {*VALUES, "length_weight", "energy_budget"} & set(said_itself) == set(
        said_itself["sources"]
    )
    species = site(tmp_path).species[code]
    assert all(species.sources[value] for value in VALUES)
    assert not species.table.verified
    for limits in (one for stage in species.limits.values() for one in stage):
        assert limits.source
        assert limits.do_watch or limits.do_act, limits
        if limits.act_low is not None or limits.act_high is not None:
            assert limits.do_act, limits


def test_a_profile_takes_what_it_does_not_say_from_the_one_it_is_like(tmp_path):
    species = site(tmp_path).species
    drum, like = species["red-drum"], species["generic-warm-marine"]
    assert (drum.table, drum.meals) == (like.table, like.meals)
    assert drum.fcr != like.fcr
    bounds = [
        {one.measure: one for one in profile.limits["larval"]}["salinity"]
        for profile in (drum, like)
    ]
    assert bounds[0].act_low != bounds[1].act_low
    assert bounds[0].do_act == bounds[1].do_act
    folder = tmp_path / "species"
    folder.mkdir()
    own = 'code = "own"\nlike = "red-drum"\nname = "Own fish"\nfcr = 1.4\n'
    (folder / "own.toml").write_text(own, "utf-8")
    assert 'species/own.toml: like = "red-drum": must be a profile of its own' in said(tmp_path)[0]
    (folder / "own.toml").write_text(own.replace("red-drum", "generic-warm-marine"), "utf-8")
    fish = load(tmp_path).species["own"]
    assert (fish.name, fish.fcr, fish.sources["fcr"]) == ("Own fish", 1.4, "common practice")
    assert fish.limits == like.limits


@pytest.mark.parametrize("code", [path.stem for path in FILES])
def test_larvae_are_never_judged_more_mildly(tmp_path, code):
    limits = site(tmp_path).species[code].limits
    other = {one.measure: one for one in limits["any"]}
    for larval in limits["larval"]:
        any_stage = other.get(larval.measure)
        if any_stage is None:
            continue
        for key, sign in (("act_low", 1), ("target_low", 1), ("target_high", -1), ("act_high", -1)):
            mild, strict = getattr(any_stage, key), getattr(larval, key)
            if mild is not None and larval.measure != "salinity":
                assert strict is not None
                assert sign * strict >= sign * mild, (larval.measure, key)


@pytest.mark.parametrize("code", [path.stem for path in FILES])
def test_decided_bands(tmp_path, code):
    limits = {one.measure: one for one in site(tmp_path).species[code].limits["any"]}
    bands = {
        name: (one.act_low, one.target_low, one.target_high, one.act_high)
        for name, one in limits.items()
    }
    assert bands["oxygen"] == (4.0, 5.0, None, None)
    assert bands["oxygen_percent"][:2] == (60, 75)
    assert bands["ammonia"] == (None, None, 0.02, 0.05)
    assert bands["nitrite"] == (None, None, 1, 10)
    assert bands["co2"] == (None, None, 10, 15)
    assert bands["chlorine"] == (None, None, 0, 0)


def test_printed_figures_of_the_two_basses(tmp_path):
    species = site(tmp_path).species
    black, sea = species["black-sea-bass"], species["european-sea-bass"]
    a, b = black.length_weight
    # husbandry checks: black sea bass of 10, 20, 30 and 40 cm
    for length, grams in ((10, 13.44), (20, 106.96), (30, 359.97), (40, 851.5)):
        assert a * length**b == pytest.approx(grams, rel=1e-3)
    assert black.optimum_low_c < 25 < black.optimum_high_c
    assert sea.optimum_low_c < 25 < sea.optimum_high_c < 29 < sea.upper_limit_c
    assert sea.length_weight is None


def test_weaning_schedules_as_printed(tmp_path):
    species = site(tmp_path).species
    bass = {one.food.split(",")[0]: one for one in species["black-sea-bass"].weaning}
    assert (bass["rotifers"].from_day, bass["rotifers"].to_day) == (2, 22)
    assert bass["microdiet"].to_day == 36
    drum = species["red-drum"].weaning
    assert [(one.from_day, one.to_day) for one in drum[:2]] == [(3, 11), (11, 21)]
    assert all(one.source for kind in species.values() for one in kind.weaning)
    for kind in (species["red-drum"], species["european-sea-bass"]):
        dry = kind.weaning[-1].from_day if kind.code != "red-drum" else 20
        live = max(one.to_day for one in kind.weaning if one.food.split()[0] != "dry")
        assert live - dry >= 7  # live and dry food beside each other for a week or more
    assert species["generic-warm-marine"].weaning == ()


def test_every_species_has_its_screens_and_the_days_its_swim_bladder_fills(tmp_path):
    for kind in site(tmp_path).species.values():
        assert kind.swim_bladder.source
        assert kind.swim_bladder.from_day <= kind.swim_bladder.to_day
        meshes = [one.mesh_um for one in kind.screens]
        assert meshes == sorted(meshes)
        days = [(one.from_day, one.to_day + 1) for one in kind.screens]
        assert [first for first, _ in days[1:]] == [last for _, last in days[:-1]]
        assert all("common practice" in one.source for one in kind.screens)


def test_printed_red_drum_conversion_and_larval_cold(tmp_path):
    drum = site(tmp_path).species["red-drum"]
    assert drum.fcr == 1.54
    larval = {one.measure: one for one in drum.limits["larval"]}
    assert larval["temperature"].act_low == 20
    assert "Holt 1992" in larval["temperature"].source


def test_ration_falls_with_weight_and_rises_with_temperature(tmp_path):
    for species in site(tmp_path).species.values():
        rows = species.table.percent
        assert all(a > b for heavier in zip(*rows, strict=True) for a, b in pairwise(heavier))
        assert all(a < b for row in rows for a, b in pairwise(row))


def test_a_site_overrides_single_values(tmp_path):
    farm = site(
        tmp_path,
        '[[species]]\ncode = "red-drum"\nfcr = 1.3\noptimum_high = "80 degF"\n'
        '[[species.limits]]\nstage = "larval"\nmeasure = "oxygen"\nact_low = 4.8\n',
    )
    drum = farm.species["red-drum"]
    assert (drum.fcr, drum.sources["fcr"]) == (1.3, "this site")
    assert drum.optimum_high_c == pytest.approx(26.6667, abs=1e-4)
    assert drum.optimum_low_c == 24
    assert drum.sources["market_weight"] != "this site"
    larval = {one.measure: one for one in drum.limits["larval"]}
    assert (larval["oxygen"].act_low, larval["oxygen"].target_low) == (4.8, None)
    assert larval["oxygen"].source == "this site"
    assert larval["oxygen"].do_act.startswith("Aerate now")
    assert larval["ammonia"].act_high == 0.025
    other = {one.measure: one for one in drum.limits["any"]}
    assert other["oxygen"].act_low == 4.0


def test_a_site_brings_a_species_of_its_own_or_replaces_one(tmp_path):
    generic = next(path for path in FILES if path.stem == "generic-warm-marine")
    text = generic.read_text("utf-8").replace("generic-warm-marine", "silver-fish")
    folder = write(tmp_path, GOOD.replace('"red-drum"', '"silver-fish"'))
    (folder / "species").mkdir()
    (folder / "species" / "silver.toml").write_text(text, "utf-8")
    farm = load(folder)
    assert farm.species_of(farm.places["G1"]).code == "silver-fish"
    (folder / "species" / "drum.toml").write_text(
        text.replace("silver-fish", "red-drum").replace("fcr = 1.5", "fcr = 2.5"), "utf-8"
    )
    assert load(folder).species["red-drum"].fcr == 2.5


@pytest.mark.parametrize(
    ("override", "part"),
    [
        ("fcr = 50", "fcr = 50: must be from 0.5 to 15"),
        ("optimum_high = 20", "optimum_high = 20: must not be below 24 degC"),
        ("meals = [[20, 5], [2, 8]]", "meals = [[20, 5], [2, 8]]: must be pairs"),
        ("meals = [[20, 0]]", "must be pairs"),
        ("meals = 3", "must be pairs"),
        ("length_weight = [3.0, 0.01]", "length_weight = [3.0, 0.01]: must be [a, b]"),
        ("fcrr = 1.2", "fcrr: unknown key: did you mean fcr?"),
        (
            '[[species.weaning]]\nfood = "dry"\nfrom_day = 9\nto_day = 3',
            "to_day = 3: must not be before from_day = 9",
        ),
        (
            "[[species.screen]]\nmesh_um = 5\nfrom_day = 0\nto_day = 3",
            "mesh_um = 5: must be from 20 to 10000",
        ),
        (
            "[species.swim_bladder]\nfrom_day = 9\nto_day = 3",
            "to_day = 3: must not be before from_day = 9",
        ),
        ('energy_budget = "cod"', 'energy_budget = "cod"'),
        ('limits = ["x"]', 'limits = "x": must be written as [[limits]]'),
        ('[[species.limits]]\nmeasure = "oxygen"', "has no bounds"),
        ('[[species.limits]]\nstage = "fry"\nmeasure = "ph"\nact_low = 7', 'stage = "fry"'),
        ('[species.table]\nsource = "x"\nfile = "../../etc/passwd"', "must name a CSV file"),
        ('[species.table]\nsource = "x"\nfile = "feeds/none.csv"', "must name a CSV file"),
        (
            '[species.table]\nsource = "x"\nweights_g = [5, 4]\ntemperatures_c = [20]\n'
            "percent = [[1], [2]]",
            "weights_g = [5, 4]: must be rising",
        ),
        (
            '[species.table]\nsource = "x"\nweights_g = [5, 9]\ntemperatures_c = [20]\n'
            "percent = [[1], [2, 3]]",
            "must be 2 rows of 1 numbers",
        ),
        (
            '[species.table]\nsource = "x"\nweights_g = [5, 9]\ntemperatures_c = [20]\n'
            "percent = [[1], [1.2]]",
            "percent = 1.2: at 9 g, 20 degC: is more than the 1 of lighter fish",
        ),
        (
            "[species.table]\nweights_g = [5]\ntemperatures_c = [20]\npercent = [[1]]",
            "source: is missing",
        ),
    ],
)
def test_a_wrong_override_names_the_sites_file(tmp_path, override, part):
    write(tmp_path, f'{GOOD}[[species]]\ncode = "red-drum"\n{override}\n')
    (line,) = said(tmp_path)
    assert line.startswith("site.toml, [[species]] 1 (red-drum)")
    assert part in line


def test_a_species_overridden_twice(tmp_path):
    twice = '[[species]]\ncode = "red-drum"\nfcr = 1.2\n' * 2
    (line,) = said(write(tmp_path, GOOD + twice))
    assert "is overridden twice" in line


def test_feed_makers_table_from_csv(tmp_path):
    folder = write(
        tmp_path,
        f'{GOOD}[[species]]\ncode = "red-drum"\n'
        '[species.table]\nfile = "feeds/maker.csv"\nsource = "the bag"\n',
    )
    (folder / "feeds").mkdir()
    csv = folder / "feeds" / "maker.csv"
    csv.write_text("weight_g,20,25\n10,3.0,4\n\n100,1.5,2\n", "utf-8-sig")
    table = load(folder).species["red-drum"].table
    assert table.weights_g == (10, 100)
    assert table.temperatures_c == (20, 25)
    assert table.percent == ((3.0, 4.0), (1.5, 2.0))
    assert table.source == "the bag"


def test_a_feed_table_outside_the_sites_feeds_is_not_read(tmp_path):
    folder = write(
        tmp_path,
        f'{GOOD}[[species]]\ncode = "red-drum"\n'
        '[species.table]\nfile = "feeds/../secret.csv"\nsource = "x"\n',
    )
    (folder / "feeds").mkdir()
    (folder / "secret.csv").write_text("w,20\n10,3\n", "utf-8")
    (line,) = said(folder)
    assert "must name a CSV file in the site's folder feeds" in line
