"""What `rounds check` says of a site without an error."""

from __future__ import annotations

import re

from msgspec.structs import replace

from rounds.site.advice import advice
from rounds.site.loading import load
from rounds.site.shipped import shipped


def test_quarantine_in_the_water_of_others_is_told() -> None:
    site = load(shipped("sample_site"))
    (says,) = advice(site)
    assert says.startswith("Q1 is quarantine on loop B, the water of G3, G4, G5: ")
    alone = replace(site.places["Q1"], loop=None)
    assert advice(replace(site, places={**site.places, "Q1": alone})) == ()


def test_no_limit_says_by_the_clock_when_to_read_again_what_the_program_says() -> None:
    told = [
        do
        for one in load(shipped("sample_site")).species.values()
        for limits in one.limits.values()
        for limit in limits
        for do in (limit.do_watch, limit.do_act)
    ]
    assert len(told) > 20
    assert not [do for do in told if re.search(r"again (in|after|within) an? ?\w* ?hour", do)]
