"""Find anything by typing part of its name, or scan a place's label: what is found is done."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable
from functools import partial
from inspect import isawaitable
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content

from rounds.day.readings.judgement import in_words
from rounds.day.recording.forms import FORMS
from rounds.day.recording.signing import ROLES, in_lines, who_may
from rounds.day.walking.walk import WalkState, answered
from rounds.day.when import spoken
from rounds.screens.cards import EMERGENCY, card_texts
from rounds.screens.field import Field
from rounds.screens.ink import BOLD, QUIET, cell, ink, row
from rounds.screens.keys import KEYS, bind
from rounds.screens.leaf import Leaf
from rounds.screens.lines import Lines
from rounds.screens.page import Page
from rounds.screens.record import ON_HANDOFF, RecordPage
from rounds.screens.walk import WalkPage
from rounds.screens.walking import walk_on
from rounds.site.cards import Card, cards
from rounds.site.glossary import Word, glossary

if TYPE_CHECKING:
    from rounds.screens.app import RoundsApp

_LIMIT = 40
_MOVES = frozenset({"up", "down", "left", "right", "page-up", "page-down", "end", "back"})
_NOT_FOUND = _MOVES | {"enter", "escape", "find"}
_ON_BOARD = _NOT_FOUND | {"w", "q"}
"""Keys of the board that mean nothing elsewhere."""


class Found(NamedTuple):
    """Something that can be found: its name, what it is, and what Enter does."""

    title: str
    what: str
    run: Callable[[], object]
    exact: str = ""
    """A place's code: typed whole, it comes first."""


_ABOUT = (
    "Type part of a name: of a place, a page, a form, a lot, a card, a word of the trade. A place "
    "with what is read there, such as G3 oxygen, finds what was kept today and yesterday: Enter "
    "opens it to be corrected."
)


class FindPage(Page[Found]):
    """A line to type and what it finds; the result is what is to be done."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("enter", "accept", "do it"),
        bind("up", "move(-1)", "up", show=False),
        bind("down", "move(1)", "mark the next"),
        bind("escape", "close", "back"),
    ]

    about = _ABOUT

    def __init__(
        self, found: Iterable[Found], kept: Callable[[], list[Found]] = list[Found]
    ) -> None:
        super().__init__("FIND")
        self.everything = tuple(found)
        self._kept: Callable[[], list[Found]] | None = kept
        """Gathers what was kept in rounds, once something is typed."""
        self.field = self.line = Field(limit=_LIMIT)
        self.chosen: int | None = None
        """The best of what is found; of an empty line, none until Down marks one."""
        self.body = Lines("body", mark=True)

    def rows(self) -> ComposeResult:
        """Yield the line and the list."""
        yield self.body

    def heading(self) -> Content:
        """Return what may be typed."""
        return ink("a tank's code, an action, a page, a word", BOLD)

    @property
    def found(self) -> tuple[Found, ...]:
        """What the line finds now, the best first."""
        if self._kept is not None and self.line.text.strip():
            self.everything, self._kept = (*self.everything, *self._kept()), None
        return matching(self.everything, self.line.text)

    def show(self) -> None:
        """Show the line and what it finds."""
        found = self.found
        lines = [Content(""), row("  ", self.line.draw(_LIMIT)), Content("")]
        for index, one in enumerate(found):
            marked = index == self.chosen
            lines.append(
                row(
                    Content.styled(" > " if marked else "   ", BOLD),
                    cell(one.title, self.width - 28, "bold on $chosen" if marked else ""),
                    "  ", cell(one.what, 22, QUIET),
                )
            )  # fmt: skip
        if not found:
            lines.append(ink("   Nothing has that name. Backspace, or Esc goes back"))
        self.body.show(lines, 3 + self.chosen if self.chosen else 0)

    def typed(self) -> None:
        """Mark the best of what is found now."""
        self.chosen = 0 if self.line.text.strip() and self.found else None
        super().typed()

    def action_move(self, by: int) -> None:
        """Move the mark."""
        start = -1 if self.chosen is None else self.chosen
        self.chosen = max(0, min(start + by, len(self.found) - 1)) if self.found else None
        self.paint()

    def action_accept(self) -> None:
        """Do what is marked."""
        if self.chosen is not None:
            self.dismiss(self.found[self.chosen])
        elif self.line.text.strip():
            self.tell(f"There is no {self.line.text} here", "watch")
        else:
            self.tell("Type part of a name, or scan a label; Down marks one", "watch")


def matching(everything: Iterable[Found], typed: str) -> tuple[Found, ...]:
    """Return what has every word typed in its name: a whole code first, then what begins so."""
    text = " ".join(typed.casefold().split())
    if not text:
        return tuple(everything)
    ranked = []
    for place, one in enumerate(everything):
        title = f"{one.title} {one.what}".casefold()
        if one.exact.casefold() == text:
            ranked.append((0, place, one))
        elif title.startswith(text):
            ranked.append((1, place, one))
        elif all(f" {part}" in f" {title}" for part in text.split()):
            ranked.append((2, place, one))
        elif all(part in title for part in text.split()):
            ranked.append((3, place, one))
    return tuple(one for _, _, one in sorted(ranked, key=lambda rank: rank[:2]))


async def find(app: RoundsApp) -> None:
    """Open the list over the present screen; what is picked is done on that screen."""
    page = app.screen
    if not isinstance(page, Page):
        return

    async def picked(found: Found | None) -> None:
        if found is not None:
            result = found.run()
            if isawaitable(result):
                await result

    app.push_screen(FindPage(offered(app, page), partial(_kept, page)), picked)


def offered(app: RoundsApp, page: Page[Any]) -> list[Found]:
    """Return everything that can be found from a screen: its keys, places, pages and words."""
    desk, site = app.desk, app.desk.site
    return [
        *_keys(app, page),
        *(
            Found(f"{place.code}  {place.name}", "place", _run(page.reach, place.code), place.code)
            for place in site.places.values()
        ),
        *_elsewhere(app, page),
        *(
            Found(f"record: {form.title}", "form", _run(_record, page, form.key))
            for form in FORMS.values()
            if form not in ON_HANDOFF
        ),
        *(
            Found(f"lot {lot}", "lot sheet", _run(_lot, page, lot))
            for lot in sorted(desk.farm.lots)
        ),
        Found("who may do what, signed off", "page", _run(_who_may, page)),
        *(
            Found(f"emergency: {card.title}", "card", _run(_card, page, card))
            for card in cards(site)
        ),
        *(Found(one.name, "word", _run(_word, page, one)) for one in glossary()),
        *([Found("the first five minutes", "guide", desk.begin_guide)] if desk.invented else []),
    ]  # fmt: skip


def _run(do: Callable[..., object], *arguments: Any) -> Callable[[], object]:
    return lambda: do(*arguments)


def _keys(app: RoundsApp, page: Page[Any]) -> list[Found]:
    """Return what the keys of a screen do now, each once."""
    found: dict[str, Found] = {}
    for node, binding, enabled, _ in page.active_bindings.values():
        name = binding.id or ""
        if enabled and binding.description and name in KEYS and name not in _NOT_FOUND:
            run = _run(app.run_action, binding.action, node)
            what = f"key {KEYS[name].shown}"
            found.setdefault(binding.action, Found(binding.description, what, run))
    return list(found.values())


def _elsewhere(app: RoundsApp, page: Page[Any]) -> Iterable[Found]:
    """Return what the board opens: over any other screen it opens on top of that."""
    board = app.board
    if page is board:
        yield from (
            Found(f"{one.checklist.title}, {one.state}", "round", _run(board.action_round, digit))
            for digit, one in enumerate(board.board.rounds if board.board else (), 1)
        )
        return
    for binding in board.BINDINGS:
        name = binding.id if isinstance(binding, Binding) else None
        if not isinstance(binding, Binding) or name not in KEYS or name in _ON_BOARD:
            continue
        if board.check_action(binding.action, ()):
            run = _run(app.run_action, binding.action, board)
            yield Found(binding.description, "page", run)


def _kept(page: Page[Any]) -> list[Found]:
    """Return what was kept in rounds of today and yesterday, the newest first."""
    desk, found = page.desk, []
    for state in answered(desk.site, desk.farm, desk.by, desk.now()):
        item = state.item
        if item is None or item.at is None:
            continue
        step = item.step
        name = in_words(step.measure) if step.measure else step.ask
        title = f"{item.place.code} {name}: {item.shown}"
        when = spoken(item.at, desk.now(), desk.site.timezone)
        found.append(Found(title, when, _run(_correct, page, state)))
    return found


def _correct(page: Page[Any], state: WalkState) -> None:
    if not (isinstance(page, WalkPage) and page.correct(state)):
        walk_on(page, state)


def _card(page: Page[Any], card: Card) -> None:
    page.app.push_screen(Leaf(EMERGENCY, card.title, card_texts(card, page.desk)))


def _record(page: Page[Any], form: str) -> None:
    def kept(says: str | None) -> None:
        if says:
            page.paint()
            page.tell(f"Kept: {says}")

    page.app.push_screen(RecordPage(FORMS[form], page.place), kept)


async def _lot(page: Page[Any], lot: str) -> None:
    from rounds.day.telling.lot_sheet import lot_sheet
    from rounds.reports.lot import heads_of, render

    desk = page.desk
    told = render(
        await asyncio.to_thread(lot_sheet, desk.site, desk.farm, lot, desk.now()),
        await asyncio.to_thread(heads_of, desk.site.folder),
        "text",
    )
    page.app.push_screen(Leaf("LOT", f"{lot}; rounds lot prints it", told.splitlines()))


def _who_may(page: Page[Any]) -> None:
    lines = in_lines(who_may(page.desk.farm, page.desk.now()))
    nobody = [f"Nobody is learning, and nobody is signed off: give somebody the {ROLES}."]
    page.app.push_screen(Leaf("SIGNED OFF", "who may do what", lines or nobody))


def _word(page: Page[Any], word: Word) -> None:
    page.app.push_screen(Leaf("WORD", word.name, [word.says]))
