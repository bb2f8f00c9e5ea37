"""Limits by rank and hour, and the figures of tanks and ponds that judgement goes by."""

from __future__ import annotations

from datetime import date, time

import pytest
from sites import GOOD, said, site, write

from rounds.site.loading import load
from rounds.site.reading import SiteErrors


class TestLimits:
    """The place's limits come first, then the species' for the stage, for any stage, the site's."""

    SITE = (
        '[[limits]]\nmeasure = "oxygen"\nact_low = 1\n[[limits]]\nmeasure = "flow"\nact_low = 2\n'
    )

    def test_species_before_site(self, tmp_path):
        farm = site(tmp_path, self.SITE)
        assert farm.limits_for("oxygen", farm.places["G1"], time(6)).act_low == 4.0
        assert farm.limits_for("oxygen", farm.places["P1"], time(6)).act_low == 1
        assert farm.limits_for("flow", farm.places["G1"], time(6)).act_low == 2
        assert farm.limits_for("level", farm.places["G1"], time(6)) is None

    def test_stage_before_any(self, tmp_path):
        farm = site(tmp_path)
        larval = farm.limits_for("ammonia", farm.places["L1"], time(6))
        other = farm.limits_for("ammonia", farm.places["G1"], time(6))
        assert (larval.target_high, larval.act_high) == (0.01, 0.025)
        assert (other.target_high, other.act_high) == (0.02, 0.05)

    def test_place_before_species_and_hours_before_none(self, tmp_path):
        own = GOOD.replace(
            'volume = "5.7 m^3"',
            'volume = "5.7 m^3"\n[[place.limits]]\nmeasure = "ph"\ntarget_low = 7.1\n'
            '[[place.limits]]\nmeasure = "ph"\ntarget_low = 7.3\nhours = "22:00-05:00"\n',
        )
        farm = load(write(tmp_path, own))
        g1 = farm.places["G1"]
        assert farm.limits_for("ph", g1, time(12)).target_low == 7.1
        assert farm.limits_for("ph", g1, time(5)).target_low == 7.1
        assert farm.limits_for("ph", g1, time(4, 59)).target_low == 7.3
        assert farm.limits_for("ph", g1, time(22)).target_low == 7.3

    def test_hours_end_before_their_last_minute(self, tmp_path):
        farm = site(tmp_path, '[[limits]]\nmeasure = "flow"\nact_low = 2\nhours = "06:00-18:00"\n')
        at = {hour: farm.limits_for("flow", farm.places["P1"], time(hour)) for hour in (5, 6, 18)}
        assert [limits is not None for limits in at.values()] == [False, True, False]

    def test_a_culture_has_limits_of_its_eggs_unless_the_site_sets_them(self, tmp_path):
        cultures = '[[place]]\ncode = "R1"\nkind = "culture"\n[[place]]\ncode = "R2"\n'
        own = (
            'kind = "culture"\n[[place.limits]]\nmeasure = "egg_ratio"\n'
            'act_low = 5\nsource = "mine"\n'
        )
        places = site(tmp_path, cultures + own).places
        (eggs,) = places["R1"].limits
        assert (eggs.target_low, eggs.act_low) == (25, 15)  # 25 to 40 % good, crash below 15
        assert [one.source for one in places["R2"].limits] == ["mine"]
        assert places["G1"].limits == ()

    def test_kinds(self, tmp_path):
        farm = site(tmp_path, '[[limits]]\nkinds = ["pond"]\nmeasure = "ph"\ntarget_high = 9.2\n')
        assert farm.limits_for("ph", farm.places["P1"], time(6)).target_high == 9.2
        assert farm.limits_for("ph", farm.places["G1"], time(6)).target_high == 8.2
        assert farm.limits == ()

    def test_a_places_own_limits_stand_before_those_of_its_kind(self, tmp_path):
        farm = site(
            tmp_path,
            '[[place.limits]]\nmeasure = "ph"\ntarget_high = 8.9\n'
            '[[limits]]\nkinds = ["pond"]\nmeasure = "ph"\nhours = "00:00-23:59"\n'
            "target_high = 9\n",
        )
        assert farm.limits_for("ph", farm.places["P1"], time(6)).target_high == 8.9

    def test_bounds_take_units(self, tmp_path):
        farm = site(tmp_path, '[[limits]]\nmeasure = "alkalinity"\nact_low = "1 meq/L"\n')
        assert farm.limits[0].act_low == pytest.approx(50.043)


def test_density_filter_rate_and_aeration_are_checked(tmp_path):
    good = GOOD.replace('volume = "5.7 m^3"', 'volume = "5.7 m^3"\ndensity = 25\naeration = 2.5')
    tray = '\n[[place]]\ncode = "M1"\nkind = "tray"\narea = "6 m^2"\ntan_removal = 0.4\n'
    farm = load(write(tmp_path, good + tray))
    assert farm.density_for(farm.places["G1"]) == (25, "this site")
    assert farm.places["M1"].tan_removal_g_m2_day == 0.4
    write(tmp_path, good.replace("density = 25", "density = 900\ntan_removal = 0.4") + tray)
    problems = said(tmp_path)
    assert any("density = 900: must be from 0.01 to 300" in one for one in problems)
    assert any("tan_removal = 0.4: is for a filter or a tray" in one for one in problems)


def test_a_species_says_the_most_fish_wanted_by_stage(tmp_path):
    farm = site(tmp_path)
    most, source = farm.density_for(farm.places["G1"])
    assert most == 30
    assert source.startswith("common practice")
    assert farm.density_for(farm.places["L1"])[0] is None


POND = '\n[[place]]\ncode = "P9"\nkind = "pond"\n[place.forage]\n'


def test_a_pond_says_what_it_bears(tmp_path):
    told = 'growth_rate = 1.2\ncarries = "13 lb"\nsource = "here"\nbreeding = "68 degF"\n'
    pond = site(tmp_path, POND + told + 'hold = "3 weeks"\npermit_until = 2027-03-31\n')
    own = pond.places["P9"].forage
    assert (own.r_per_yr, own.source, own.permit_until) == (1.2, "here", date(2027, 3, 31))
    assert (own.k_kg, own.breeding_c) == (pytest.approx(13 * 0.45359237), pytest.approx(20))
    assert own.hold_days == pytest.approx(21)


def test_a_pond_that_says_nothing_holds_its_crops_longest(tmp_path):
    own = site(tmp_path, POND).places["P9"].forage
    assert (own.r_per_yr, own.k_kg, own.hold_days) == (None, None, 28)


@pytest.mark.parametrize(
    ("bad", "key"),
    [
        ("growth_rate = 1.2\nsource = 'x'", "carries"),
        ("growth_rate = 1.2\ncarries = 5", "source"),
        ("growth_rate = 0\ncarries = 5\nsource = 'x'", "growth_rate"),
        ('growth_rate = 1\ncarries = "5 m"\nsource = "x"', "carries"),
        ("hold = 7", "hold"),
        ('hold = "6 weeks"', "hold"),
        ('breeding = "70 degC"', "breeding"),
        ('permit_until = "soon"', "permit_until"),
        ("permit_untill = 2027-01-01", "permit_untill"),
    ],
)
def test_what_a_pond_cannot_say(tmp_path, bad, key):
    (problem,) = said(write(tmp_path, GOOD + POND + bad))
    assert problem.startswith(f"site.toml, [[place]] 4 (P9), [forage]: {key}")


def test_forage_is_for_a_pond(tmp_path):
    with pytest.raises(SiteErrors, match="is for a pond"):
        site(tmp_path, POND.replace('"pond"', '"store"'))
