"""The emergency cards: one key away on every screen, one digit to the card, nothing asked."""

from __future__ import annotations

from rounds.screens.choose import Choose
from rounds.screens.leaf import Leaf
from rounds.site.cards import NOTE, Card, cards
from rounds.site.model import Site

EMERGENCY = "EMERGENCY"


class CardsPage(Choose):
    """The list of cards; a digit opens one, and Esc there leads back to the list."""

    def __init__(self, site: Site) -> None:
        self.cards = cards(site)
        super().__init__(
            EMERGENCY, "which one?", [card.title for card in self.cards], says=[" ".join(NOTE)]
        )

    def picked(self, index: int) -> None:
        """Open this card."""
        card = self.cards[index]
        self.app.push_screen(Leaf(EMERGENCY, card.title, card_texts(card)))


def card_texts(card: Card) -> list[str]:
    """Return a card as the lines of a page: people first, then what to do in its order."""
    texts: list[str] = []
    if card.people:
        texts += ["PEOPLE FIRST", *(f"! {line}" for line in card.people), ""]
    texts += [f"{n}. {line}" for n, line in enumerate(card.first, 1)]
    for title, part in (
        ("CALL", card.call),
        ("THIS SITE'S FIGURES", card.numbers),
        ("AT HAND", card.at_hand),
        ("THEN", card.then),
    ):
        if part:
            texts += ["", title, *(f"- {line}" for line in part)]
    return texts
