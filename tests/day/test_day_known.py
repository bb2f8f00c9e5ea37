"""What a step says before it is answered: the last meal, the dead of these days, open matters."""

from __future__ import annotations

from laptops import Laptop, stand
from small_farm import NOW, Days

from rounds.day.feeding.meals import last_meal
from rounds.day.walking.walk import answer, look
from rounds.records.entry import Died, Fed, Matter


def stocked() -> Laptop:
    laptop = Laptop()
    laptop.stock("G4", count=250)
    laptop.read("G4", "oxygen", "6.5", "mg/L")
    return laptop


def feed(laptop: Laptop, left: str) -> None:
    laptop.keep(Fed(place="G4", product="G4mm", amount="200", unit="g", meal=1, left=left))


def test_what_was_left_is_asked_beside_the_meal_it_was_left_of() -> None:
    laptop = stocked()
    feed(laptop, left="54")
    laptop.wait(hours=15)
    told = look(stand(laptop, "G4", "feed_left"), "", laptop.now).known
    assert told == ("The last meal: 200 g, today 07:00, 27 % left.",)


def test_where_nothing_was_fed_the_question_says_that_nothing_can_be_left() -> None:
    laptop = stocked()
    feed(laptop, left="")
    laptop.wait(days=2)
    (told,) = look(stand(laptop, "G4", "feed_left"), "", laptop.now).known
    assert told == "No meal was given here since Mon 2 Mar 07:00: nothing can be left of one."
    laptop.wait(days=9)
    (told,) = look(stand(laptop, "G4", "feed_left"), "", laptop.now).known
    assert told.startswith("No meal was given here in the last week")


def test_feed_left_is_written_to_the_meal_the_next_morning_too() -> None:
    days = Days()
    meal = days.feed("200", -15)
    days.feed("100", -40)
    kept = last_meal(days.farm, "T1", NOW)
    assert kept is not None
    assert kept.id == meal.id
    assert last_meal(days.farm, "T2", NOW) is None


def test_the_advice_on_feed_left_gives_no_factor_beside_the_rations() -> None:
    laptop = stocked()
    told = look(stand(laptop, "G4", "feed_left"), "a tenth or more", laptop.now)
    assert told.verdict == "watch"
    assert "keys R and L: the ration then cuts the next" in told.do
    assert "three quarters" not in told.do


def test_the_dead_of_the_last_days_stand_beside_the_question() -> None:
    laptop = stocked()
    for count in (2, 3, 4):
        laptop.keep(Died(place="G4", lot="RD1", count=count))
        laptop.wait(hours=9)
        laptop.keep(Died(place="G4", lot="RD1", count=0))
        laptop.wait(hours=15)
    state = stand(laptop, "G4", "dead")
    assert look(state, "", laptop.now).last == "dead: 4 yesterday, 3 Tue, 2 Mon"


def matter(laptop: Laptop, again: str, about: str = "", text: str = "Ask the vet first") -> None:
    laptop.keep(Matter(place="G4", text=text, owner="ana", again_if=again, about=about))


def test_an_open_matter_stands_at_its_step_and_says_when_its_mark_is_passed() -> None:
    laptop = stocked()
    matter(laptop, "more than four dead in a day")
    told = "Open matter, Ana has it: Ask the vet first; again if more than four dead in a day."
    oxygen = look(stand(laptop, "G4", "oxygen"), "", laptop.now)
    state = stand(laptop, "G4", "dead")
    assert look(state, "", laptop.now).known == (told,)
    assert oxygen.known == ()
    assert look(stand(laptop, "G3", "dead"), "", laptop.now).known == ()
    passed = "It is more than four dead in a day: tell Ana now (Ask the vet first)."
    assert passed not in look(state, "4", laptop.now).do
    assert look(state, "5", laptop.now).do.startswith(passed)
    laptop.keep(Died(place="G4", lot="RD1", count=3))  # the morning's count of the same day
    assert answer(stand(laptop, "G4", "dead"), "2", laptop.now, True).do.startswith(passed)


def test_a_matter_about_a_measure_is_passed_by_a_value_beyond_its_edge() -> None:
    laptop = stocked()
    matter(laptop, "below 4.5", "oxygen")
    state = stand(laptop, "G4", "oxygen")
    assert "tell Ana now" not in look(state, "4.6", laptop.now).do
    assert look(state, "4.4", laptop.now).do.startswith("It is below 4.5: tell Ana now")


def test_no_figure_is_called_ok_under_a_value_to_act_on() -> None:
    laptop = stocked()
    for measure, value, unit in (
        ("tan", "0.30", "mg/L"), ("ph", "7.50", "pH"), ("salinity", "32", "g/kg"),
    ):  # fmt: skip
        laptop.read("G4", measure, value, unit)
    state = stand(laptop, "G4", "temperature")
    assert any(" OK" in line for line in look(state, "25.0", laptop.now).derived)
    cold = look(state, "4.6", laptop.now)
    assert cold.verdict == "act"
    assert not any(" OK" in line for line in cold.derived)
