"""What is half typed is not judged while typing on can make it a value to expect."""

from __future__ import annotations

import pytest
from laptops import Laptop, stand, us

from rounds.day.walking import walk
from rounds.day.walking.typing_on import still_typing

WARM, AIR, TAN, PH, ZERO = [(22, 28)], [(5, 12)], [(0.1, 0.4)], [(7.2, 8.4)], [(-0.3, 0.3)]
ALKALI, HPA = [(240, 400)], [(1013, 1021)]


@pytest.mark.parametrize(
    ("typed", "spans", "decimals", "waits"),
    [
        ("2", WARM, 1, True), ("24", WARM, 1, True), ("24.", WARM, 1, True),
        ("24.9", WARM, 1, False), ("24,9", WARM, 1, False),  # complete: never held back
        ("2.", WARM, 1, False), ("2.4", WARM, 1, False), ("240", WARM, 1, False),
        ("3", WARM, 1, False), ("21", WARM, 1, False), ("22", WARM, 1, True),
        ("6", AIR, 1, True), ("68", AIR, 1, False), ("4", AIR, 1, False),
        ("1", AIR, 1, True), ("1.", AIR, 1, False), ("0", AIR, 1, False),
        ("0", TAN, 2, True), ("0.", TAN, 2, True), (".", TAN, 2, True),
        ("0.5", TAN, 2, False), ("7", PH, 2, True), ("7.1", PH, 2, False),
        ("-", ZERO, 2, True), ("-0", ZERO, 2, True), ("-0.2", ZERO, 2, True),
        ("-0.25", ZERO, 2, False), ("-4", ZERO, 2, False), ("-", WARM, 1, False),
        ("-1", [(-20.0, -10.0)], 1, True), ("7", [(71.6, 82.4)], 1, True),
        ("3", ALKALI, 0, True), ("32", ALKALI, 0, True),
        ("320", ALKALI, 0, False), ("96", [(80.0, 200.0)], 0, False),
        ("101", HPA, 0, True), ("102", HPA, 0, True),
        ("103", HPA, 0, False),
        ("", WARM, 1, False), ("2..", WARM, 1, False), ("2 mg/L", WARM, 1, False),
        ("2", [], 1, False),
    ],
)  # fmt: skip
def test_still_typing(
    typed: str, spans: list[tuple[float, float]], decimals: int, waits: bool
) -> None:
    assert still_typing(typed, spans, decimals) is waits


# place, step, unit site, last, typed: what is shown at each key, "..." while it waits
@pytest.mark.parametrize(
    ("place", "step", "american", "last", "typed", "shown"),
    [
        ("G1", "temperature", False, "25.1", "24.9", "... ok ok ok"),
        ("G1", "temperature", False, "", "24.9", "... ok ok ok"),
        ("G1", "temperature", False, "25.1", "2.4", "... odd odd"),
        ("G1", "temperature", False, "24.1", "240", "... ok no"),
        ("G1", "temperature", True, "25.1", "77.2", "... ok ok ok"),
        ("G1", "oxygen", False, "6.8", "68", "ok no"),
        ("G1", "oxygen", False, "6.8", "10.2", "... ok ok ok"),
        ("G1", "oxygen", False, "6.8", "3.9", "act act act"),
        ("G1", "oxygen", False, "4.6", "4.6", "watch watch watch"),  # like the last, and bad
        ("G1", "ph", False, "7.60", "7.62", "... ... ok ok"),
        ("G1", "alkalinity", False, "110", "112", "... ... ok"),
        ("G1", "alkalinity", False, "", "2.4", "odd odd odd"),
    ],
)  # fmt: skip
def test_key_by_key(
    place: str, step: str, american: bool, last: str, typed: str, shown: str
) -> None:
    laptop = Laptop(us() if american else None)
    unit = {"temperature": "degC", "oxygen": "mg/L", "ph": "pH", "alkalinity": "mg/L CaCO3"}[step]
    if last:
        laptop.read(place, step, last, unit)
        laptop.wait(hours=3)
    state = stand(laptop, place, step)
    seen = []
    for end in range(1, len(typed) + 1):
        look = walk.look(state, typed[:end], laptop.now)
        odd = "no" if look.keeps == "no" else "odd" if look.doubts else look.verdict
        seen.append("..." if look.unfinished else odd)
    assert " ".join(seen) == shown


@pytest.mark.parametrize("typed", ["2", "24", "-", "4.9", "39.9", "1", "0", "99999"])
def test_enter_judges_the_whole_of_what_is_half_typed(typed: str) -> None:
    laptop = Laptop()
    laptop.read("G1", "temperature", "25.1", "degC")
    laptop.wait(hours=1)
    state = stand(laptop, "G1", "temperature")
    look, outcome = walk.look(state, typed, laptop.now), walk.answer(state, typed, laptop.now)
    assert {"yes": "keep", "confirm": "confirm", "no": "refuse"}[look.keeps] == outcome.kind
    assert (look.says, look.verdict) == (outcome.says, outcome.verdict)


def test_so_far_tells_the_number_alone() -> None:
    laptop = Laptop()
    look = walk.look(stand(laptop, "G1", "temperature"), "2", laptop.now)
    assert look.unfinished
    assert "below" in look.says
    assert (look.so_far.says, look.so_far.verdict, look.so_far.do) == ("2 ...", "unknown", "")
    assert not look.so_far.doubts
    assert look.so_far.aim == look.aim
