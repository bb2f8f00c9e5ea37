"""What stands at the foot of every screen: the values to read again, and by when."""

from __future__ import annotations

from textual.content import Content

from rounds.day.readings.judgement import in_words
from rounds.day.when import clock, local_day, spoken
from rounds.screens.desk import Desk
from rounds.screens.ink import BOLD, STYLES, cut, ink, row


def reread_rows(desk: Desk, width: int) -> list[Content]:
    """Return one row on the values to read again, the first due first; none where there are none.

    What is late is told by its sign; as many are named as fit.
    """
    again = desk.rereads
    if not again:
        return []
    now, zone = desk.now(), desk.site.timezone
    late = sum(one.due < now for one in again)
    sign = row(ink(" ! LATE ", STYLES["watch"]), " ") if late else Content("")
    said: list[str] = []
    room = width - sign.cell_length - len(" Read again ") - len(" and 99 more")
    for one in again:
        today = local_day(one.due, zone) == local_day(now, zone)
        at = clock(one.due, zone) if today else spoken(one.due, now, zone)
        said.append(f"{one.place} {in_words(one.measure)} by {at}")
        if len(", ".join(said)) > room and said[1:]:
            said.pop()
            break
    more = len(again) - len(said)
    text = f"Read again {', '.join(said)}{f' and {more} more' if more else ''}"
    return [row(" ", sign, ink(cut(text, width - sign.cell_length - 2), BOLD))]
