"""Batches of feed: which one of a feed is open, so that every meal of it has its batch.

An opened batch is a note about it. Meals carry none: a meal is of the batch that was opened last.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.recording.asking import Answers, Asked, Field, Form
from rounds.records.entry import Note

ABOUT: Final = "batch of "
LASTS: Final = timedelta(days=365)
"""A bag is open no longer (common practice: feed keeps for less)."""


def opened(farm: Farm, since: datetime) -> Mapping[str, Sequence[tuple[datetime, str]]]:
    """Return when which batch was opened, by the code of the feed, oldest first.

    Args:
        farm: The farm.
        since: The first meal asked about; a batch opened before may still be open then.
    """
    found: dict[str, list[tuple[datetime, str]]] = {}
    for note in farm.notes(since - LASTS):
        if note.about.startswith(ABOUT):
            product, _, batch = note.about.removeprefix(ABOUT).partition(": ")
            found.setdefault(product, []).append((note.at, batch))
    return found


def at(batches: Sequence[tuple[datetime, str]], when: datetime) -> str:
    """Return the batch of a feed that was open at an instant; empty where none was recorded."""
    known = [batch for since, batch in batches if since <= when <= since + LASTS]
    return known[-1] if known else ""


def _feeds(farm: Farm, answers: Answers) -> tuple[str, ...]:
    return tuple(one.code for one in farm.site.products.values() if one.kind == "feed")


def _batch(asked: Asked) -> Note:
    product, batch = asked.text("product"), asked.text("batch")
    name = asked.farm.site.products[product].name
    return Note(
        text=f"{name} ({product}): batch {batch} opened", about=f"{ABOUT}{product}: {batch}"
    )


BATCH: Final = Form(
    "batch", "a new batch of feed is opened",
    (
        Field("product", "Which feed", "choice", _feeds, "feed"),
        Field("batch", "Its batch, as the bag says", "text"),
    ),
    _batch, "no product is a feed: name one in site.toml",
)  # fmt: skip
