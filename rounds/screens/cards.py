"""The emergency cards: one key away on every screen, one digit to the card, nothing asked."""

from __future__ import annotations

from rounds.day.loops.air import minutes
from rounds.reports.air import shortest
from rounds.screens.choose import Choose
from rounds.screens.desk import Desk
from rounds.screens.leaf import Leaf
from rounds.site.cards import NOTE, Card, cards

EMERGENCY = "EMERGENCY"
_OF_AIR = ("power-cut", "low-oxygen", "pump-stopped")
"""Cards that tell how long the tanks last."""


class CardsPage(Choose):
    """The list of cards; a digit opens one, and Esc there leads back to the list."""

    def __init__(self, desk: Desk) -> None:
        self.cards = cards(desk.site)
        super().__init__(
            EMERGENCY, "which one?", [card.title for card in self.cards], says=[" ".join(NOTE)]
        )

    def picked(self, index: int) -> None:
        """Open this card."""
        card = self.cards[index]
        self.app.push_screen(Leaf(EMERGENCY, card.title, card_texts(card, self.desk)))


def card_texts(card: Card, desk: Desk) -> list[str]:
    """Return a card as the lines of a page: people first, then what to do in its order."""
    texts: list[str] = []
    now, zone = desk.now(), desk.site.timezone
    told = card.code in _OF_AIR and desk.ready
    left = shortest(minutes(desk.site, desk.farm, now), now, zone) if told else ()
    if card.people:
        texts += ["PEOPLE FIRST", *(f"! {line}" for line in card.people), ""]
    texts += [f"{n}. {line}" for n, line in enumerate(card.first, 1)]
    for title, part in (
        ("CALL", card.call),
        ("HOW LONG THE TANKS LAST, from what was read last", left),
        ("THIS SITE'S FIGURES", card.numbers),
        ("AT HAND", card.at_hand),
        ("THEN", card.then),
    ):
        if part:
            texts += ["", title]
            texts += [line if line.startswith(" ") else f"- {line}" for line in part]
    return texts
