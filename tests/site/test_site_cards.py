"""Emergency cards: people first, short lines, the site's own numbers and valves."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from rounds.site.cards import CARDS, NOTE, WIDTH, cards
from rounds.site.loading import load
from rounds.site.shipped import shipped

SITE = load(shipped("sample_site"))
BY_CODE = {card.code: card for card in cards(SITE)}


def test_all_eight_in_order():
    assert tuple(BY_CODE) == CARDS
    assert len(CARDS) == 8


@pytest.mark.parametrize("code", CARDS)
def test_lines_fit_and_each_is_one_whole_sentence(code):
    card = BY_CODE[code]
    for line in (*card.people, *card.first, *card.then):
        assert len(line) <= WIDTH
        assert line.endswith((".", "!"))
        assert line[0].isupper()
    for line in (*card.numbers, *card.at_hand, *card.call):
        assert len(line) <= WIDTH
    assert card.first
    assert card.then
    assert card.call


@pytest.mark.parametrize(
    "code", ["power-cut", "chlorine", "sulphide", "heat", "leak", "person-hurt"]
)
def test_people_come_first_where_they_are_in_danger(code):
    assert BY_CODE[code].people


def test_nobody_goes_in_after_somebody():
    for code in ("sulphide", "person-hurt"):
        assert any("never go in after them" in line for line in BY_CODE[code].people)


def test_low_oxygen_acts_before_it_measures():
    first, *rest = BY_CODE["low-oxygen"].first
    assert "air into that tank now" in first
    assert any("Read oxygen" in line for line in rest)


def test_numbers_are_the_sites_own():
    numbers = BY_CODE["low-oxygen"].numbers
    assert "Act below 4.5 mg/L: L1 L2" in numbers
    assert any(line.startswith("Act below 4 mg/L: N1 N2 G1") for line in numbers)
    # full: sump 1.8, tanks 15.4, sand bed 0.9, tray 0.6 m^3; 7 g of crystals a gram of chlorine
    assert any("Loop A, full 18.7 m^3: 131 g" in line for line in BY_CODE["chlorine"].numbers)
    assert "Act above 33 degC: N1" in BY_CODE["heat"].numbers[-1]


def test_numbers_follow_the_sites_units():
    us = {card.code: card for card in cards(replace(SITE, display_units="us"))}
    assert any("Act above 86 degF: L1 L2" in line for line in us["heat"].numbers)
    assert any("gal:" in line for line in us["chlorine"].numbers)


def test_valves_stand_on_the_cards_they_name():
    for valve in SITE.valves:
        for card in BY_CODE.values():
            shown = any(line.startswith(f"{valve.code} (") for line in card.at_hand)
            assert shown == (card.code in valve.cards)


def test_a_bare_site_has_cards_too():
    bare = replace(SITE, valves=(), loops={}, places={})
    assert [card.code for card in cards(bare)] == list(CARDS)
    assert all(card.at_hand == () for card in cards(bare))


def test_it_says_what_it_is_not():
    assert "not an alarm" in " ".join(NOTE)
    assert "veterinarian" in " ".join(NOTE)
