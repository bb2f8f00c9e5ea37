"""Every key of the app as data: its names on letters and number block, and how it is written.

A letter is bound in both cases, a sign of the number block under both names terminals give it.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from textual.binding import ActiveBinding, Binding


class Key(NamedTuple):
    """Names Textual may give the key, how the key line writes it, and its twins in the help."""

    names: str
    shown: str
    twins: str = ""


_LETTERS: Final = "acdefgiklnopqrstuvwy"
"""Those that mean something on some screen, and have no other name."""
KEYS: Final = {
    **{letter: Key(f"{letter},{letter.upper()}", letter.upper()) for letter in _LETTERS},
    "enter": Key("enter", "Enter"),
    "escape": Key("escape", "Esc"),
    "up": Key("up", "Up"),
    "down": Key("down", "Down"),
    "left": Key("left", "Left"),
    "right": Key("right", "Right"),
    "page-up": Key("pageup", "PgUp"),
    "page-down": Key("pagedown", "PgDn"),
    "end": Key("end", "End"),
    "back": Key("up,b,B,backspace", "Up", "B, Backspace in an empty field"),
    "skip": Key("s,S,slash,divide", "S", "/"),
    "note": Key("m,M,asterisk,multiply", "M", "*"),
    "help": Key("h,H,question_mark", "H", "?"),
    "emergency": Key("x,X", "X", "!"),
    "emergency-sign": Key("exclamation_mark", "!"),
    "find": Key("j,J,plus,add", "J", "+"),
    "leave": Key("ctrl+q", "Ctrl+Q"),
    "redraw": Key("ctrl+l", "Ctrl+L"),
}


def bind(
    name: str, action: str, says: str, *, show: bool = True, priority: bool = False
) -> Binding:
    """Return the binding of one of `KEYS` to an action, with a word for the key line."""
    key = KEYS[name]
    return Binding(
        key.names, action, says, show=show, key_display=key.shown, priority=priority, id=name
    )


def digits(action: str, says: str, *, show: bool = True, upto: int = 9) -> list[Binding]:
    """Return the bindings of 1 to `upto` to an action that takes the number."""
    return [
        Binding(
            str(n), f"{action}({n})", says, show=show, key_display=f"1-{upto}", id=f"{action}-{n}"
        )
        for n in range(1, upto + 1)
    ]


def listed(active: Iterable[ActiveBinding], *, everything: bool = False) -> list[tuple[str, str]]:
    """Return the keys that work now as (key, what it does), each once, in their order.

    Args:
        active: The screen's active bindings.
        everything: Also those the key line has no room for, with their twins.
    """
    found: dict[tuple[str, str], None] = {}
    for _, binding, enabled, _ in active:
        name = binding.id or ""
        if name == "emergency-sign":
            continue  # the help writes it as the twin of X
        if not enabled or not binding.description or not (binding.show or everything):
            continue
        shown = binding.key_display or binding.key
        if everything and name in KEYS and KEYS[name].twins:
            shown = f"{shown}, {KEYS[name].twins}"
        found[(shown, binding.description)] = None
    return list(found)
