"""What is sent of each frame makes the terminal show what all of it would."""

from __future__ import annotations

import random
from typing import Any

import pyte
import pytest
from rich.console import Console, RenderableType
from rich.segment import Segment
from rich.style import Style
from screens_hand import Clock, Hand, opened
from textual._compositor import ChopsUpdate, CompositorUpdate, LayoutUpdate
from textual.geometry import Region
from textual.strip import Strip

from rounds.screens.app import RoundsApp
from rounds.screens.frame import Frame, erasing_fills
from rounds.site.model import Site

WIDTH, HEIGHT = 24, 4
FRAMES = 60
KEYS = 24
WORDS = [
    "",
    " ",
    "     ",
    "G4 6.8",
    "not done   ",
    "Grow-out",
    "São Tomé",
    "水温 7",
    "e\u0301a",
    " .",
]


def _styles() -> list[Style | None]:
    """Styles of one console: Textual keeps in each the codes of the first that drew it."""
    return [
        None,
        Style(color="#000000", bgcolor="#ffffff"),
        Style(color="#000000", bgcolor="#ffffff", bold=True),
        Style(color="#3a3a3a", bgcolor="#ffffff"),
        Style(color="#ffffff", bgcolor="#af0000", bold=True),
        Style(color="red", bgcolor="blue"),
        Style(color="red", reverse=True, underline=True, italic=True),
        Style(bold=True, dim=True),
        Style(dim=True, bgcolor="bright_white"),
    ]


class Shown:
    """A terminal, and the cells of it that the eye tells apart."""

    def __init__(self, width: int = WIDTH, height: int = HEIGHT) -> None:
        self.screen = pyte.Screen(width, height)
        self._stream = pyte.Stream(self.screen)
        self._stream.feed("\x1b[?7l")
        self.codes = ""

    def feed(self, codes: str) -> None:
        self.codes += codes
        self._stream.feed(codes)

    def resize(self, width: int, height: int) -> None:
        self.screen.resize(height, width)

    def cells(self) -> list[list[tuple[Any, ...]]]:
        rows = (self.screen.buffer[y] for y in range(self.screen.lines))
        return [[_seen(row[x]) for x in range(self.screen.columns)] for row in rows]


def _seen(cell: Any) -> tuple[Any, ...]:
    lined = cell.underscore or cell.reverse or cell.strikethrough
    if cell.data == " " and not lined:
        return " ", cell.bg
    return cell.data, cell.fg, cell.bg, cell.bold, cell.italics, lined


def _console(depth: Any) -> Console:
    return Console(color_system=depth, force_terminal=True)


class Chance(random.Random):
    """A random hand with the inks of one console."""

    def __init__(self, seed: str) -> None:
        super().__init__(seed)
        self.styles = _styles()

    def strip(self, width: int) -> Strip:
        parts = [Segment(self.choice(WORDS), self.choice(self.styles)) for _ in range(4)]
        return Strip(parts).adjust_cell_length(width, self.choice(self.styles))


def _next(chance: Chance, rows: list[list[Strip]]) -> CompositorUpdate:
    """Change some rows, as two widgets side by side do, and return what Textual would draw."""
    changed = [y for y in range(HEIGHT) if chance.random() < 0.5] or [0]
    cut = chance.choice((0, 7, 8))
    for y in changed:
        rows[y] = [chance.strip(cut), chance.strip(WIDTH - cut)][not cut :]
    if chance.random() < 0.3:
        return LayoutUpdate(list(rows), Region(0, 0, WIDTH, HEIGHT))
    chops: list[dict[int, Strip | None]] = [{} for _ in rows]
    for y in changed:
        x = 0
        for strip in rows[y]:
            chops[y][x] = strip
            x += strip.cell_length
    ends = [[x + strip.cell_length for x, strip in line.items() if strip] for line in chops]
    return ChopsUpdate(chops, [(y, 0, WIDTH) for y in changed], ends)


@pytest.mark.parametrize("depth", ["256", "standard", "truecolor", None])
@pytest.mark.parametrize("fills", [True, False])
def test_random_frames_show_the_same_cells(depth: str | None, fills: bool) -> None:
    chance, console = Chance(f"{depth}{fills}"), _console(depth)
    frame, shown = Frame(fills), Shown()
    rows = [[Strip.blank(WIDTH)] for _ in range(HEIGHT)]
    everything = LayoutUpdate(list(rows), Region(0, 0, WIDTH, HEIGHT))
    _send(frame, everything, console, shown)
    whole = 0
    for _ in range(FRAMES):
        update = _next(chance, rows)
        expected = Shown()
        expected.feed(
            LayoutUpdate(list(rows), Region(0, 0, WIDTH, HEIGHT)).render_segments(console)
        )
        whole += len(update.render_segments(console))
        _send(frame, update, console, shown)
        assert shown.cells() == expected.cells()
    assert len(shown.codes) < whole


def _send(frame: Frame, update: CompositorUpdate, console: Console, shown: Shown) -> None:
    if (changes := frame.changes(update, console)) is not None:
        shown.feed(changes.render_segments(console))


def test_a_sign_cut_in_two_is_drawn_whole_by_the_next_frame() -> None:
    frame, shown, console = Frame(), Shown(), _console("256")
    wide, piece = Strip([Segment("水温" * 6)]), Strip([Segment("abc")])
    everything = LayoutUpdate([[wide]] * HEIGHT, Region(0, 0, WIDTH, HEIGHT))
    _send(frame, everything, console, shown)
    for x in (7, 13):
        chops, ends = [{x: piece, 20: piece}], [[x + 3, 23]]  # the second is not drawn now
        _send(frame, ChopsUpdate(chops, [(0, x, x + 3)], ends), console, shown)
    row = shown.screen.buffer[0]
    assert "".join(row[x].data for x in range(7, 24)) == "abc温水abc水温水温"
    _send(frame, everything, console, shown)
    assert shown.screen.display == ["水温" * 6] * HEIGHT


def _shown(monkeypatch: pytest.MonkeyPatch) -> Shown:
    """Return a terminal that shows what the app would send, from its first frame on."""
    shown = Shown(80, 24)

    def display(app: RoundsApp, _: object, update: RenderableType | None) -> None:
        if isinstance(update, CompositorUpdate) and not app._batch_count:
            _send(app.frame, update, app.console, shown)

    monkeypatch.setattr(RoundsApp, "_display", display)
    return shown


def _expected(hand: Hand) -> list[list[tuple[Any, ...]]]:
    """The cells as Textual draws the whole screen."""
    app = hand.app
    strips = app.screen._compositor.render_strips()
    expected = Shown(*app.size)
    whole = LayoutUpdate([[strip] for strip in strips], app.size.region)
    expected.feed(whole.render_segments(app.console))
    return expected.cells()


KEYS_OF_ALL = [
    *"0123456789.,-abdfhijklmoprstvwxy", "enter", "escape", "up", "down", "left", "right",
    "backspace", "pagedown", "pageup",
]  # fmt: skip


async def test_random_keys_show_the_same_cells(
    falling: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    chance = random.Random(7)
    shown = _shown(monkeypatch)
    async with opened(falling, clock) as hand:
        for turn in range(KEYS):
            if turn == KEYS // 2:
                shown.resize(120, 40)
                await hand.resize(120, 40)
            await hand.press(chance.choice(KEYS_OF_ALL))
            hand.app.screen._on_timer_update()  # the next frame, now
            await hand.settle()
            assert shown.cells() == _expected(hand)


async def test_what_others_wrote_goes_by_one_key(
    falling: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = _shown(monkeypatch)
    async with opened(falling, clock) as hand:
        shown.feed("\x1b[2J\x1b[5;5HSystem goes down in 5 minutes")
        assert shown.cells() != _expected(hand)
        await hand.press("ctrl+l")
        hand.app.screen._on_timer_update()
        assert shown.cells() == _expected(hand)


@pytest.mark.parametrize(
    ("environ", "fills"),
    [
        ({"TERM": "xterm-256color"}, True),
        ({"TERM": "screen-256color"}, False),
        ({"TERM": "xterm-256color", "STY": "1234.pts-0"}, False),
        ({}, False),
    ],
)
def test_erasing_is_for_terminals_that_fill(environ: dict[str, str], fills: bool) -> None:
    assert erasing_fills(environ) is fills
