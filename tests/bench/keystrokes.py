"""Key to settled screen, and bytes a key, beside the reference form app: kinds in random order."""

from __future__ import annotations

import random
import re
import statistics
import sys
from collections import defaultdict
from collections.abc import Mapping
from contextlib import ExitStack
from pathlib import Path

from tests.terminal.program import BOUNCE_S, DOWN, ESCAPE, UP, Answer, Program, command, digit

TURNS = 12
STEPS = 2
"""Steps of the walk in a turn."""
SIZES = ((80, 24), (120, 40))
TITLE = "First light"
FORM = Path(__file__).with_name("form.py")
IDLE_S = 3.0
_LIKELY = {"hPa": "1013", "degC": "25", "mbar": "205", "pH": "7.8"}
"""Typed where nothing was read before, by the unit asked."""

Answers = dict[str, list[Answer]]


def keystrokes(env: Mapping[str, str]) -> None:
    """Print what each kind of key takes at both sizes, and what an idle screen sends."""
    for columns, rows in SIZES:
        with ExitStack() as opened:
            form = opened.enter_context(Program([sys.executable, FORM], {}, columns, rows))
            app = opened.enter_context(Program([command()], env, columns, rows))
            form.wait("FORM READY")
            app.wait("BOARD", TITLE)
            app.settle(IDLE_S)  # the rest of a first board, and the page of a first start
            if "not an alarm" in app.text:
                app.enter()
                app.wait("BOARD", TITLE, gone=["not an alarm"])
            form.settle()
            found: Answers = defaultdict(list)
            for turn in range(TURNS):
                for one in random.sample((_form, _board, _walk), 3):
                    one(form if one is _form else app, found, turn)
            print(f"keys at {columns}x{rows}")
            _told(found)
            before = len(app.wire)
            app.settle(IDLE_S)
            print(f"  idle          {len(app.wire) - before} bytes in {IDLE_S:.0f} s (aim 0)")


def _form(form: Program, found: Answers, _: int) -> None:
    for key in "6789":
        found["form, digit"].append(form.press(key))
        form.press("\x7f")


def _board(app: Program, found: Answers, _: int) -> None:
    for key in (DOWN, DOWN, UP, UP):
        found["board, up/down"].append(app.press(key))


def _walk(app: Program, found: Answers, turn: int) -> None:
    """Go on with the round, answer some steps, and leave it."""
    app.settle(BOUNCE_S)
    app.type("\r" if turn else digit(app.text, TITLE))
    if "begins it now" in app.wait(lambda text: "WALK" in text or "begins it now" in text):
        app.enter()
    app.wait("WALK", "Step ")
    app.settle(BOUNCE_S)
    for _ in range(STEPS):
        assert "Step " in app.text, app.text
        if "digit of the answer" in app.text:
            app.settle(BOUNCE_S)
            found["walk, answer"].append(app.press("1"))
            continue
        for key in _value(app.text):
            found["walk, digit"].append(app.press(key))
        at = _step(app.text)
        for _ in range(3):  # what is odd is kept by the second
            answer = app.press("\r")
            app.settle(BOUNCE_S)
            if _step(app.text) != at:
                break
        else:
            raise AssertionError(f"not kept:\n{app.text}")
        found["walk, Enter"].append(answer)
    found["walk, Esc"].append(app.press(ESCAPE))
    app.wait("BOARD")
    app.settle()


def _step(text: str) -> str:
    found = re.search(r"Step (\d+) of", text)
    return found[1] if found else ""


def _value(text: str) -> str:
    """Return what was read last, else what is aimed at; of the dead none, which asks no more."""
    if "dead" in text.split("Step", 2)[1]:
        return "0"
    found = re.search(r"(?:last|aim) ([\d.]+) ", text)
    unit = re.search(r"\]  (\S+)", text)
    return found[1] if found else _LIKELY.get(unit[1] if unit else "", "1")


def _told(found: Answers) -> None:
    form = found.pop("form, digit")
    print(f"  {'form, digit':15} {_figures(form)}")
    for kind, answers in found.items():
        ratios = ", ".join(
            f"{of(a.settled_s for a in answers) / of(a.settled_s for a in form):.2f}"
            for of in (min, statistics.median)
        )
        print(f"  {kind:15} {_figures(answers)}; settled beside the form: {ratios} (aim 1.0)")


def _figures(answers: list[Answer]) -> str:
    first, settled, cpu = (
        f"{1000 * min(one):.1f} (median {1000 * statistics.median(one):.1f})"
        for one in ([a[n] for a in answers] for n in range(3))
    )
    sent = [a.bytes for a in answers]
    return (
        f"first byte {first} ms, settled {settled}, processor {cpu}; "
        f"bytes median {statistics.median(sent):.0f}, most {max(sent)} (aim 400)"
    )
