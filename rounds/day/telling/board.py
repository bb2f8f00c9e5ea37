"""The board: a line for every place, what is due, and the worst first. All text is ready here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import datetime
from typing import Final, Literal

from msgspec import Struct

from rounds.day.feeding.fasting import NO_FEED as WITHHELD
from rounds.day.feeding.fasting import fasts
from rounds.day.fold.farm import Farm
from rounds.day.fold.state import OpenMatter
from rounds.day.laptops.unheard import unheard
from rounds.day.loops.air import of_place as air_of_place
from rounds.day.loops.saltbalance import balances
from rounds.day.meters.doubts import MeterDoubt, doubts_of_meters
from rounds.day.readings.covering import covered, known
from rounds.day.readings.judgement import (
    NAMES,
    RANK,
    SIGNS,
    Figure,
    Judgement,
    Word,
    worst,
)
from rounds.day.readings.like_hour import usual
from rounds.day.verdict import PlaceVerdict, of_place, presses, says_all
from rounds.day.walking.plan import Reread, Round, at_need, rereads, rounds_on
from rounds.day.when import clock
from rounds.site.measures import MEASURES
from rounds.site.model import Place, Site
from rounds.site.rhythm import event_of

SHOWN: Final = ("temperature", "oxygen", "ph", "ammonia")
"""Measures with a column of their own."""
DIGITS: Final = 9
"""Rounds that have a digit."""
NO_FEED: Final = "NO FEED"
READ_FIRST: Final = "read O2"
ACT_FIRST: Final = "see ACT"
"""In place of a meal: fish to see to before they are fed."""
AWAITED: Final = "..."
"""Stands where a figure is still being worked out."""
KNOWN: Final = "~ KNOWN"
"""The sign of a place that is fine but for what an open matter covers."""
_WORDS: Final[dict[Word, str]] = {
    "act": "to act on",
    "watch": "to watch",
    "ok": "OK",
    "unknown": "not done",
}


class Change(Struct, frozen=True):
    """A latest figure against what is usual in its place at that hour of the day."""

    measure: str
    way: Literal["up", "down", "steady"]
    """Steady within the accuracy of a common meter."""
    says: str


class BoardLine(Struct, frozen=True):
    """A place on the board. A cell is (measure, text, verdict)."""

    place: str
    kind: str
    name: str
    fish: str
    cells: tuple[tuple[str, str, Word], ...]
    round: str
    feed: str
    verdict: Word
    says: str
    do: str
    due: str
    air: str = "-"
    """Minutes of air: "38 min", with the case named where air off and flow off differ."""
    known: tuple[str, ...] = ()
    """What is to watch here and in somebody's hands, a line each: no part of the verdict."""

    meal: str = "-"
    """What is to feed now ("320 g"), from when ("at 14:05"), that all was given, or why not."""
    changes: tuple[Change, ...] = ()
    presses: tuple[int, bool, float] = (0, False, 0.0)
    """How it presses among places of one verdict: `verdict.presses`."""

    @property
    def sign(self) -> str:
        """The verdict's sign, or that all there is to watch is known."""
        if self.idle:
            return "-"
        return KNOWN if self.known and self.verdict == "ok" else SIGNS[self.verdict]

    @property
    def idle(self) -> bool:
        """Whether nothing is to be known here: no round of today has come to it yet."""
        return self.verdict == "unknown" and self.round == "-" and not self.says


class Board(Struct, frozen=True):
    """The farm at a glance; the house, which keeps all alive, stands before the places.

    `worst` holds the places to act on and to watch, the worst first.
    """

    lines: tuple[BoardLine, ...]
    worst: tuple[BoardLine, ...]
    rounds: tuple[Round, ...]
    """A digit opens each of the first nine, the same all day: by their windows, at need last."""
    rereads: tuple[Reread, ...]
    counts: str
    notice: str
    unheard: tuple[str, ...]
    matters: tuple[OpenMatter, ...]
    meters: tuple[str, ...] = ()
    """What speaks against a meter or a loop's water, a line each, for under the table."""
    fasts: tuple[str, ...] = ()
    """Feed withheld by decision, a line each, for under the table."""

    @property
    def verdict(self) -> Word:
        """The worst of all places, but for those that no round of today has come to."""
        return worst(line.verdict for line in self.lines if not line.idle)

    @property
    def facts(self) -> tuple[str, ...]:
        """What stands behind the verdict, the first part naming the places it is of."""
        counted = Counter(line.verdict for line in self.lines)
        state = self.verdict
        worst_first = dict.fromkeys((*self.worst, *self.lines))
        places = [line.place for line in worst_first if line.verdict == state and not line.idle]
        told = [", ".join(places)]
        if state in ("ok", "unknown"):
            told = [f"{len(places)} of {len(self.lines)} places"]
        if counted["watch"] and state == "act":
            told.append(f"{counted['watch']} {_WORDS['watch']}")
        running = [one for one in self.rounds if one.state not in ("coming", "done")]
        late = sum(one.overdue for one in running)
        for count, one, more in (
            (sum(one.total - one.done for one in running), "step open", "steps open"),
            (late, "round late", "rounds late"),
            (len(self.matters), "open matter", "open matters"),
        ):
            if count:
                told.append(f"{count} {one if count == 1 else more}")
        return tuple(told)


def board(
    site: Site,
    farm: Farm,
    now: datetime,
    here: str = "",
    *,
    glance: bool = False,
) -> Board:
    """Judge the farm as it stands now.

    Args:
        site: The site.
        farm: The farm.
        now: The present.
        here: The writer of this laptop.
        glance: Whether to leave out what takes longest and no verdict hangs on: the rations, what
            is usual at this hour, what speaks against the meters.

    Returns:
        The board, its lines in walking order.
    """
    due, again = rounds_on(site, farm, now), rereads(site, farm, now)
    doubts: tuple[MeterDoubt, ...] = ()
    salt: tuple[str, ...] = ()
    feed = dict.fromkeys(farm.stocks, (AWAITED, AWAITED))
    if not glance:
        from rounds.day.telling.boardfeed import (
            feed_cells,  # loads much that a first board waits for
        )

        doubts, feed = doubts_of_meters(site, farm, now), feed_cells(site, farm, now)
        salt = tuple(one.says for one in balances(site, farm, now))
    lines = tuple(
        _line(
            site,
            farm,
            place,
            of_place(site, farm, place, now, doubts),
            due,
            again,
            feed,
            now,
            glance=glance,
        )
        for place in sorted(site.places.values(), key=lambda place: place.kind != "house")
    )
    bad = [line for line in lines if line.verdict in ("watch", "act")]
    return Board(
        lines=lines,
        worst=tuple(sorted(bad, key=lambda line: (-RANK[line.verdict], *line.presses))),
        rounds=_numbered((*due, *at_need(site, farm, now))),
        rereads=again,
        counts=_counts(lines),
        notice=site.notice,
        unheard=unheard(farm, now, here),
        matters=tuple(matter for matter in farm.matters if matter.about != WITHHELD),
        meters=(*_quarrels(farm), *(doubt.says for doubt in doubts), *salt),
        fasts=tuple(f"{fast.place}: {fast.says(now, site.timezone)}" for fast in fasts(farm, now)),
    )


def _numbered(rounds: tuple[Round, ...]) -> tuple[Round, ...]:
    """Return rounds in the order of their digits; one due past the ninth takes a done one's."""
    event = {one.checklist.code: event_of(one.checklist.due) for one in rounds}
    found = sorted(
        (one for one in rounds if event[one.checklist.code]), key=lambda one: one.checklist.title
    )
    found = [*(one for one in rounds if not event[one.checklist.code]), *found]
    free = [n for n, one in enumerate(found[:DIGITS]) if one.state == "done"]
    now = ("open", "late", "due")
    wanting = [n for n, one in enumerate(found) if n >= DIGITS and one.state in now]
    for n, to in zip(wanting, free, strict=False):
        found[n], found[to] = found[to], found[n]
    return tuple(found)


def _quarrels(farm: Farm) -> tuple[str, ...]:
    if not farm.conflicts:
        return ()
    from rounds.day.telling.changes import quarrels  # seldom: no first board waits for it

    return quarrels(farm)


def _line(
    site: Site,
    farm: Farm,
    place: Place,
    stands: PlaceVerdict,
    due: tuple[Round, ...],
    again: tuple[Reread, ...],
    feed: Mapping[str, tuple[str, str]],
    now: datetime,
    *,
    glance: bool,
) -> BoardLine:
    total, meal = feed.get(place.code, ("-", "-"))
    hands = {j.measure: one for j in stands.judgements if (one := covered(farm, j, now))}
    told = next((j for j in stands.judgements if j.measure not in hands), None)
    breath = air_of_place(site, farm, place, now) if farm.stocks.get(place.code) else None
    return BoardLine(
        place=place.code,
        kind=place.kind,
        name=place.name,
        fish=_fish(farm, place),
        cells=_cells(site, stands),
        round=_round(place, due),
        feed=total,
        verdict=told.verdict if told and not told.unlimited else "ok" if hands else stands.verdict,
        says=says_all(told, [j for j in stands.judgements if j.measure not in hands])
        if told
        else "",
        do=told.do if told else "",
        due=_due(site, place, due, again, now),
        air=breath.text if breath is not None else "-",
        known=tuple(
            known(farm, hands[j.measure], j.says, now)
            for j in stands.judgements
            if j.measure in hands
        ),
        meal=meal,
        changes=() if glance else _changes(site, farm, stands),
        presses=presses(farm, place, told, breath, now),
    )


def _changes(site: Site, farm: Farm, stands: PlaceVerdict) -> tuple[Change, ...]:
    found = (_change(site, farm, judgement) for judgement in stands.judgements)
    return tuple(change for change in found if change is not None)


def _change(site: Site, farm: Farm, judgement: Judgement) -> Change | None:
    """Compare a figure of the table with its like hours; None where no habit is known."""
    measure, value = judgement.measure, judgement.value
    info = MEASURES.get(measure)
    if measure not in SHOWN or value is None or info is None or info.derived:
        return None
    before = usual(farm, judgement.place, measure, judgement.at)
    if before is None:
        return None
    beyond = abs(value - before) > info.accuracy_at(before) + 1e-9
    way: Literal["up", "down", "steady"] = "steady"
    if beyond:
        way = "up" if value > before else "down"
    figure = Figure(info.decimals, info.unit, site.display_units)
    name = NAMES.get(measure, info.name)
    told = f"{name} {way}, usual at that hour {figure.with_unit(before)}"
    return Change(measure, way, told)


def _round(place: Place, due: tuple[Round, ...]) -> str:
    """Return how far the rounds in a place are; complete with steps skipped is not complete."""
    begun = [one for one in due if one.state != "coming" and place.code in one.places]
    done, total = (sum(one.places[place.code][n] for one in begun) for n in (0, 1))
    skipped = sum(one.skipped_in.get(place.code, 0) for one in begun)
    if not total:
        return "-"
    return f"{skipped} skipped" if done == total and skipped else f"{done} of {total}"


def _fish(farm: Farm, place: Place) -> str:
    stocks = farm.stocks.get(place.code, ())
    if not stocks:
        return "-"
    about = "~" if any(stock.estimated for stock in stocks) else ""
    return f"{about}{sum(stock.count for stock in stocks)}"


def _cells(site: Site, stands: PlaceVerdict) -> tuple[tuple[str, str, Word], ...]:
    worst_first = {judgement.measure: judgement for judgement in reversed(stands.judgements)}
    share = worst_first.get("oxygen_percent")
    cells = []
    for measure in SHOWN:
        judgement = worst_first.get(measure)
        if judgement is None or judgement.value is None:
            continue
        word = judgement.verdict
        if measure == "oxygen" and share is not None:
            word = worst((word, share.verdict))
        info = MEASURES[measure]
        text = Figure(info.decimals, info.unit, site.display_units).rounded(judgement.value)
        cells.append((measure, text, word))
    return tuple(cells)


def _due(
    site: Site, place: Place, due: tuple[Round, ...], again: tuple[Reread, ...], now: datetime
) -> str:
    """Return what is due next in a place: a value to read again, else the first round not done."""
    told = [reread.says for reread in again if reread.place == place.code]
    for one in due:
        done, total = one.places.get(place.code, (0, 0))
        if one.state not in ("coming", "done") and done < total:
            late = "late, since" if now > one.end else "by"
            told.append(f"{one.checklist.title} {late} {clock(one.end, site.timezone)}")
    return told[0] if told else ""


def _counts(lines: tuple[BoardLine, ...]) -> str:
    counted = Counter(line.verdict for line in lines if not line.idle)
    parts = [f"{counted[word]} {text}" for word, text in _WORDS.items() if counted[word]]
    if idle := sum(line.idle for line in lines):
        parts.append(f"{idle} with no round yet today")
    return f"{len(lines)} places: {', '.join(parts)}"
