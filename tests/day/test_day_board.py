"""The board: a line for every place, the worst first, all of it from the farm as it stands."""

from __future__ import annotations

from laptops import Laptop, us
from ration_farm import good
from small_farm import NOW

from rounds.day.telling import board as boards
from rounds.day.telling.board import Board, BoardLine, board
from rounds.day.telling.handoff import matters
from rounds.day.walking import walk
from rounds.day.walking.plan import rounds_on
from rounds.records.entry import Answer, Died, Fed, Incident, Matter
from rounds.reports.day import sheet


def line(found: Board, place: str) -> BoardLine:
    return next(one for one in found.lines if one.place == place)


def see(laptop: Laptop) -> Board:
    return board(laptop.site, laptop.farm, laptop.now, laptop.writer)


def test_every_place_has_a_line_in_walking_order() -> None:
    laptop = Laptop()
    found = see(laptop)
    assert [one.place for one in found.lines] == list(laptop.site.places)
    assert {one.verdict for one in found.lines} == {"unknown"}
    assert found.worst == ()
    total = len(laptop.site.places)
    # the store is looked at once a week, on another day
    assert found.counts == f"{total} places: {total - 1} not done, 1 with no round yet today"
    assert [one.place for one in found.lines if one.sign == "-"] == ["STORE"]
    assert "Invented" in found.notice


def test_the_worst_is_told_first_with_what_to_do() -> None:
    laptop = Laptop()
    for place in ("N1", "G1", "G2", "G3"):
        laptop.stock(place, f"RD-{place}", count=100)
    laptop.read("N1", "oxygen", "6.6", "mg/L")
    laptop.read("G1", "oxygen", "4.6", "mg/L")
    laptop.read("G2", "oxygen", "3.2", "mg/L")
    found = see(laptop)
    assert [(one.place, one.verdict) for one in found.worst] == [("G2", "act"), ("G1", "watch")]
    assert found.worst[0].says == "Oxygen 3.2 mg/L, below 4.0"
    assert found.worst[0].do.startswith("Aerate now")
    assert "places: 1 to act on, 1 to watch, 1 OK, " in found.counts


def test_cells_hold_the_readings_and_the_cautious_ammonia() -> None:
    laptop = Laptop()
    laptop.stock("G1", count=248)
    for measure, value, unit in (
        ("oxygen", "6.60", "mg/L"), ("temperature", "26.5", "degC"), ("salinity", "32", "g/kg"),
        ("ph", "7.45", "pH"), ("tan", "1.80", "mg/L"),
    ):  # fmt: skip
        laptop.read("G1", measure, value, unit)
    cells = {measure: (text, word) for measure, text, word in line(see(laptop), "G1").cells}
    assert cells["oxygen"] == ("6.6", "ok")
    assert cells["temperature"] == ("26.5", "ok")
    assert cells["ph"][0] == "7.45"
    # e2e_round_nh3n_mgL of the water checks: 0.0233; the cautious value is higher, and to watch
    assert float(cells["ammonia"][0]) > 0.0233
    assert cells["ammonia"][1] == "watch"
    assert line(see(laptop), "G1").fish == "248"


def test_the_oxygen_cell_shows_the_worse_of_percent_and_mg_l() -> None:
    laptop = Laptop()
    laptop.read("G1", "temperature", "24.5", "degC")
    laptop.read("G1", "salinity", "20.0", "g/kg")
    laptop.read("G1", "oxygen", "5.2", "mg/L")
    assert ("oxygen", "5.2", "watch") in line(see(laptop), "G1").cells


def test_us_units_on_the_board() -> None:
    laptop = Laptop(us())
    laptop.read("G1", "temperature", "77.0", "degF")
    assert ("temperature", "77.0", "ok") in line(see(laptop), "G1").cells


def test_a_round_is_counted_place_by_place_and_told_until_done() -> None:
    laptop = Laptop()
    state = laptop.go(laptop.begin(), "G2", "oxygen")
    laptop.type(state, "6.6")
    found = line(see(laptop), "G2")
    done, total = found.round.split(" of ")
    assert (int(done), int(total) > 1) == (1, True)
    assert found.due.startswith("First light by ")
    laptop.wait(hours=5)
    assert line(see(laptop), "G2").due.startswith("First light late, since ")


def test_a_round_keeps_its_digit_for_the_day() -> None:
    laptop = Laptop()
    before = [one.checklist.code for one in see(laptop).rounds]
    laptop.wait(hours=2)
    laptop.keep(walk.finish(laptop.begin(before[0])))
    laptop.keep(Incident(about="power", event="began"))  # calls for one that was at need
    laptop.wait(hours=5)
    found = see(laptop).rounds
    assert found[0].state == "done"
    assert [one.checklist.code for one in found] == before


def test_past_nine_rounds_one_that_is_done_gives_its_digit_to_one_that_is_due() -> None:
    laptop = Laptop()
    before = [one.checklist.code for one in see(laptop).rounds]
    tenth = boards.DIGITS
    assert before[tenth] == "night-look"
    laptop.wait(hours=2)
    laptop.keep(walk.finish(laptop.begin(before[0])))
    laptop.wait(hours=12)
    after = [one.checklist.code for one in see(laptop).rounds]
    assert (after[0], after[tenth]) == (before[tenth], before[0])
    assert after[1:tenth] == before[1:tenth]


def test_a_value_to_read_again_is_due_first() -> None:
    laptop = Laptop()
    state = laptop.go(laptop.begin(), "G2", "oxygen")
    laptop.type(state, "4.4")
    found = see(laptop)
    assert line(found, "G2").due == "read G2 oxygen again by 07:30 (4.4 ! WATCH)"
    assert [one.place for one in found.rereads] == ["G2"]


def test_no_feed_is_a_sign() -> None:
    laptop = Laptop()
    laptop.stock("G1")
    laptop.read("G1", "temperature", "25.0", "degC")
    laptop.read("G1", "salinity", "30.0", "g/kg")
    laptop.read("G1", "oxygen", "3.2", "mg/L")
    assert line(see(laptop), "G1").feed == boards.NO_FEED
    assert line(see(laptop), "HOUSE").feed == "-"


def test_another_laptops_entries_change_the_board() -> None:
    here, there = Laptop(), Laptop(writer="p4z8aa", by="rui")
    there.stock("G1", count=250)
    there.read("G1", "oxygen", "3.2", "mg/L")
    there.keep(Died(place="G1", lot="RD1", count=1))
    there.keep(Matter(place="G1", text="stone half blocked"))
    assert see(here).worst == ()
    here.hear(there)
    found = see(here)
    assert [one.place for one in found.worst] == ["G1"]
    assert line(found, "G1").fish == "249"
    assert [matter.text for matter in found.matters] == ["stone half blocked"]
    here.wait(hours=3)
    assert "laptop p4z8aa (Rui)" in see(here).unheard[0]


def test_feed_is_not_shown_in_grams_before_oxygen_is_read() -> None:
    laptop = Laptop()
    laptop.stock("G1")
    laptop.stock("L1", "LARVAE")
    laptop.wait(hours=-24)
    laptop.keep(Fed(place="G1", product="PEL-40", amount="900", unit="g", meal=1))
    laptop.wait(hours=24)
    for measure, value, unit in (("temperature", "25", "degC"), ("salinity", "30", "g/kg")):
        laptop.read("G1", measure, value, unit)
    for place in ("G1", "L1"):
        assert line(see(laptop), place).feed == boards.READ_FIRST
    assert len(boards.READ_FIRST) <= 9
    laptop.read("G1", "oxygen", "6.6", "mg/L")
    assert line(see(laptop), "G1").feed.endswith(" g")


def skipped_all_but(laptop: Laptop, *answers: str) -> None:
    """Walk the house's life support, answering the first steps and skipping the others."""
    state = laptop.begin("life-support")
    for text in answers:
        state, _ = laptop.type(state, text)
    while state.item is not None:
        entry = laptop.keep(walk.skip(state, "cannot reach", laptop.now).entry)  # type: ignore[arg-type]
        state = walk.kept(state, laptop.farm, entry)
    laptop.keep(walk.finish(state))


def test_a_round_complete_with_skipped_steps_says_how_many() -> None:
    laptop = Laptop()
    skipped_all_but(laptop, "1", "1", "90")
    house = line(see(laptop), "HOUSE")
    total = len(laptop.begin("life-support").items)
    assert house.round == f"{total - 3} skipped"
    found = next(one for one in see(laptop).rounds if one.checklist.code == "life-support")
    assert found.progress == f"{total} of {total} done, {total - 3} skipped"
    todo = [one.text for one in matters(laptop.site, laptop.farm, laptop.now, "ana").not_done]
    assert f"House and life support: {total - 3} skipped at HOUSE" in todo


def test_a_skipped_step_that_could_be_one_to_act_on_leaves_the_place_unknown() -> None:
    laptop = Laptop()
    laptop.read("HOUSE", "pressure", "1013", "hPa")
    assert line(see(laptop), "HOUSE").verdict == "ok"
    skipped_all_but(laptop, "1", "1", "90")
    house = line(see(laptop), "HOUSE")
    assert house.verdict == "unknown"
    assert house.says == "Do all pumps run, with their usual sound? skipped: cannot reach"
    out = sheet(laptop.site, laptop.farm, laptop.now)
    assert "HOUSE  not done  Do all pumps run, with their usual sound? skipped:" in out
    laptop.wait(minutes=5)
    steps = {s.code: s for s in laptop.site.checklists["life-support"].steps if s.act_if}
    for code in steps:
        laptop.keep(Answer(place="HOUSE", step=code, value="fine", verdict="ok"))
    assert line(see(laptop), "HOUSE").verdict == "ok"


def test_a_skipped_step_is_told_until_it_is_answered_not_until_the_night_is_over() -> None:
    laptop = Laptop()
    skipped_all_but(laptop, "1")
    skipped = line(see(laptop), "HOUSE").says
    laptop.wait(hours=25)
    laptop.read("HOUSE", "pressure", "1013", "hPa")
    assert line(see(laptop), "HOUSE").verdict == "unknown"
    assert line(see(laptop), "HOUSE").says == skipped
    laptop.wait(days=7)
    laptop.read("HOUSE", "pressure", "1013", "hPa")
    assert line(see(laptop), "HOUSE").verdict == "ok"


def test_a_place_nobody_looked_at_today_is_not_ok_by_what_was_seen_yesterday() -> None:
    laptop = Laptop()
    laptop.read("HOUSE", "pressure", "1013", "hPa")  # no limits: it judges nothing
    laptop.keep(Answer(place="M1", step="smell", value="sea or earth", verdict="ok"))
    assert line(see(laptop), "M1").verdict == "ok"
    laptop.wait(days=1)
    found = see(laptop)
    for place in ("HOUSE", "M1"):
        assert (line(found, place).verdict, line(found, place).do) == (
            "unknown", "Walk its round.",
        )  # fmt: skip
    laptop.keep(Answer(place="M1", step="smell", value="sea or earth", verdict="ok"))
    assert line(see(laptop), "M1").verdict == "ok"
    laptop.wait(hours=16.5)  # 23:30
    laptop.keep(Answer(place="HOUSE", step="power", value="yes", verdict="ok"))
    laptop.wait(hours=1)
    assert line(see(laptop), "HOUSE").verdict == "ok"


def test_checklists_for_an_event_are_on_the_board_after_the_rounds_of_the_day() -> None:
    laptop = Laptop()
    found = [one.checklist.code for one in see(laptop).rounds]
    today = [one.checklist.code for one in rounds_on(laptop.site, laptop.farm, laptop.now)]
    assert found[: len(today)] == today
    assert "fill" in found[len(today) :]
    assert "fill" not in today


def test_a_figure_is_told_against_its_like_hours_beyond_the_noise_of_a_meter() -> None:
    laptop = Laptop()
    for value in ("25.0", "25.1", "25.0", "24.9"):
        for place in ("G1", "G2", "G3"):
            laptop.read(place, "temperature", value, "degC")
        laptop.wait(days=1)
    laptop.read("G1", "temperature", "25.1", "degC")
    laptop.read("G2", "temperature", "25.9", "degC")
    laptop.read("G3", "temperature", "23.9", "degC")
    laptop.read("G4", "temperature", "23.9", "degC")
    found = see(laptop)
    ways = {one.place: [change.way for change in one.changes] for one in found.lines}
    assert (ways["G1"], ways["G2"], ways["G3"], ways["G4"]) == (["steady"], ["up"], ["down"], [])
    assert line(found, "G3").changes[0].says == "Temperature down, usual at that hour 25.0 degC"


def test_the_farm_stands_as_its_worst_place_and_names_it() -> None:
    laptop = Laptop()
    total = len(laptop.site.places)
    first = see(laptop).facts[0]
    assert (see(laptop).verdict, first) == ("unknown", f"{total - 1} of {total} places")
    for place in ("N1", "G2", "G3"):
        laptop.stock(place, f"RD-{place}", count=100)
    laptop.read("N1", "oxygen", "6.6", "mg/L")
    laptop.read("G2", "oxygen", "4.6", "mg/L")
    assert (see(laptop).verdict, see(laptop).facts[0]) == ("watch", "G2")
    laptop.read("G3", "oxygen", "3.2", "mg/L")
    laptop.keep(Matter(place="G1", text="stone half blocked"))
    found = see(laptop)
    assert (found.verdict, found.facts[:2]) == ("act", ("G3", "1 to watch"))
    assert found.facts[-1] == "1 open matter"


def test_the_headline_counts_the_steps_that_are_open() -> None:
    laptop = Laptop()
    state = laptop.begin()
    rest = len(state.items) - 1
    laptop.type(laptop.go(state, "G2", "oxygen"), "6.6")
    begun = [one for one in see(laptop).rounds if one.state in ("open", "due", "late")]
    others = sum(one.total for one in begun if one.checklist.code != "first-light")
    assert f"{rest + others} steps open" in see(laptop).facts
    assert not any("not done" in fact for fact in see(laptop).facts)


def test_feeding_due_is_told_as_the_meal_or_its_hour() -> None:
    days = good()
    meal = line(board(days.site, days.farm, NOW), "T1").meal
    assert meal.endswith(" g")
    days.feed(meal.removesuffix(" g").replace(" ", ""), 0.0)
    assert line(board(days.site, days.farm, NOW), "T1").meal.startswith("at ")
