"""The farm from a checkpoint is the farm from all entries, whatever came when, and says so fast."""

from __future__ import annotations

import os
import random
import shutil
from datetime import date, timedelta
from hashlib import sha256
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import msgspec
import pytest
from msgspec.structs import replace
from small_farm import NOW, Days, make_site

from rounds.day.fold import snapshot as snapshots
from rounds.day.fold.farm import Earlier, Farm, fold
from rounds.day.fold.page import Page
from rounds.day.fold.snapshot import Snapshot
from rounds.records import entry as e
from rounds.records import index
from rounds.records.book import Book
from rounds.records.decoding import encode
from rounds.records.index import got, put
from rounds.records.segment import chained

SITE = make_site()
DAYS = 12
END = NOW + timedelta(days=DAYS)
MEASURES = ("oxygen", "temperature")


class Shared:
    """A records folder to which segments come from laptops, in whatever order."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.segs = 0

    def seal(self, entries: list[e.Entry], writer: str, run: str) -> None:
        """Add a sealed segment of these entries."""
        self.segs += 1
        first = entries[0]
        header = e.Open(
            id=f"{writer}-{run}-0", t=first.t, off="+00:00", day=first.day, format=1,
            site=SITE.id, site_digest="", writer=writer, seg=self.segs, prev="", seen={}, app="",
        )  # fmt: skip
        data = chained(encode(one) for one in (header, *entries))
        name = sha256(data).hexdigest()[:32]
        tree = self.folder / "records" / "sealed" / writer
        tree.mkdir(parents=True, exist_ok=True)
        day = first.day.replace("-", "")
        (tree / f"{self.segs:06d}_{day}_{name}.jsonl").write_bytes(data)

    def snapshot(self) -> Snapshot:
        """Return a fresh start on this folder."""
        book = Book.open(self.folder, SITE.id, SITE.digest, tz=SITE.timezone, read_only=True)
        return Snapshot(SITE, book)

    def start(self) -> Farm:
        """Open the farm as a program does, and keep what it made of it."""
        snapshot = self.snapshot()
        farm = snapshot.open(END)
        if (ended := snapshot.ended(farm, END)) is not None:
            snapshot.keep(ended, END)
        return farm

    def anew(self) -> Farm:
        """Fold all entries, with nothing of the cache."""
        book = Book.open(self.folder, SITE.id, SITE.digest, tz=SITE.timezone, read_only=True)
        return fold(SITE, book.entries())


def history(rng: random.Random, count: int) -> list[tuple[str, str, list[e.Entry]]]:
    """Return segments of an invented history: writer, run, entries, as they were written."""
    runs: dict[tuple[str, int], Days] = {}
    known: list[e.Entry] = []
    for n in range(count):
        day = 0 if n < 2 else rng.randrange(DAYS)
        writer = rng.choice(("aaaaaa", "bbbbbb"))
        days = runs.setdefault((writer, day), Days(SITE, writer))
        days.by = rng.choice(("ana", "rui"))
        entry = _one(rng, days, 24 * day + rng.uniform(0, 26), known, stock=n < 2)
        known.append(entry)
    found = []
    for number, ((writer, day), days) in enumerate(runs.items()):
        run = f"run{number:03d}"
        entries = [_named(entry, f"{writer}-{run}-{k}") for k, entry in enumerate(days.entries, 1)]
        names = {old.id + old.t: new.id for old, new in zip(days.entries, entries, strict=True)}
        found.append((writer, run, entries, names, day))
    names = {old: new for *_, named, _ in found for old, new in named.items()}
    return [
        (writer, run, [_aimed(one, names) for one in entries])
        for writer, run, entries, _, _ in sorted(found, key=lambda one: one[4])
    ]


def _named(entry: e.Entry, name: str) -> e.Entry:
    return replace(entry, id=name)


def _aimed(entry: e.Entry, names: dict[str, str]) -> e.Entry:
    if isinstance(entry, e.Correction):
        return replace(entry, of=names[entry.of], after=[names[one] for one in entry.after])
    if isinstance(entry, e.Matter | e.Takeover) and entry.of:
        return replace(entry, of=names[entry.of])
    return entry


def _one(
    rng: random.Random, days: Days, hours: float, known: list[e.Entry], *, stock: bool
) -> e.Entry:
    write, place = days.write, rng.choice(("T1", "T2"))
    if stock:
        lot = f"L{len(known)}"
        return write(e.Stocked, hours / 30, lot=lot, place=f"T{len(known) + 1}", count=500,
                     mean_weight="100", unit="g")  # fmt: skip
    name = [one.id + one.t for one in known]
    lot, count = rng.choice(("L0", "L1")), rng.randrange(5)
    late = {"day": f"{NOW + timedelta(days=rng.randrange(DAYS)):%Y-%m-%d}"} if count == 4 else {}
    walk = f"w{NOW + timedelta(hours=hours):%d}"
    read_at = e.stamp(NOW + timedelta(hours=hours - 3)) if count == 3 else None
    match rng.randrange(15):
        case 0 | 1 | 2 | 3:
            return write(e.Reading, hours, place=place, measure=rng.choice(MEASURES),
                         value=f"{5 + count}.1", unit="mg/L", step="s", walk=None if late else walk,
                         read_at=read_at, **late)  # fmt: skip
        case 4:
            return write(e.Died, hours, lot=lot, place=place, count=count, **late)
        case 5:
            return write(e.Fed, hours, place=place, product="P", amount=f"{count}00", unit="g",
                         **late)  # fmt: skip
        case 6:
            return write(e.Moved, hours, lot=lot, source="T1", target="T2", count=count * 9)
        case 7:
            of = rng.choice(name)
            keys = {"day": next(k.day for k in known if k.id + k.t == of)} if count % 2 else {}
            return write(e.Correction, hours, of=of, void=count > 2, set={"by": "x", "count": 7},
                         **keys)  # fmt: skip
        case 8:
            return write(e.Weighed, hours, lot=lot, place=place, count=4, mass=f"{400 + count}",
                         unit="g")  # fmt: skip
        case 9:
            opened = [one.id + one.t for one in known if isinstance(one, e.Matter)]
            return write(e.Matter, hours, text=f"hums {count}",
                         of=rng.choice(opened) if opened and count < 2 else "")  # fmt: skip
        case 10:
            return write(e.Incident, hours, about="pump", loop="A",
                         event=rng.choice(("began", "ended")))  # fmt: skip
        case 11:
            return write(e.Answer, hours, place=place, step="look", value="calm", **late)
        case 12:
            return write(e.Walk, hours, walk=walk, event=rng.choice(("begun", "left", "done")),
                         checklist="morning")  # fmt: skip
        case 13:
            return write(e.Handoff, hours, covers=e.stamp(NOW), text=f"all {count}")
        case _:
            return write(e.State, hours, place=place, state=rng.choice(("drained", "in service")))


def told(farm: Farm, ids: list[str]) -> dict[str, Any]:
    """Return what a farm answers to everything that is asked of it."""
    at = [NOW + timedelta(days=n, hours=5) for n in (1, 4, 8, DAYS)]
    places = ("T1", "T2")
    found: dict[str, Any] = {
        "stocks": farm.stocks, "matters": farm.matters, "incidents": farm.incidents,
        "heard": farm.heard, "walks": farm.walks, "handoffs": farm.handoffs[-3:],
        "water": farm.loop_water("A"), "skips": farm.skips(),
        "conflicts": sorted(farm.conflicts, key=lambda one: one.of),
        "lots": {
            lot: [x.id for x in done if not isinstance(x, e.Died) or x.count]
            for lot, done in farm.lots.items()
        },
    }  # fmt: skip
    for place in places:
        found[place] = (
            farm.fed(place), farm.fed(place, at[1]), farm.dead(place), farm.dead(place, at[2]),
            farm.answers(place, "look"), farm.latest_answer(place, "look", at[1]),
            [farm.fed_on(place, f"{NOW + timedelta(days=n):%Y-%m-%d}") for n in range(DAYS)],
            [farm.reads(place, m) for m in MEASURES], [farm.first_read(place, m) for m in MEASURES],
            [farm.latest(place, m, then) for m in MEASURES for then in at],
            [farm.between(place, m, at[0], at[2]) for m in MEASURES],
            {walk: farm.at_step(walk, place, "s") for walk in farm.walks},
        )  # fmt: skip
    for name in ids:
        found[name] = (farm.entry(name), farm.as_written(name), farm.corrections_of(name))
    written = farm.written(at[0], at[2])
    found["written"] = [one for one in written if not isinstance(one, e.Open)]
    return found


# corrections of corrections, before what they correct; an earlier reading of a later day
@pytest.mark.parametrize("seed", [9, 20, 109])
@pytest.mark.parametrize("pages", [92, 3, -20])  # -20: all days are long over
def test_a_farm_from_checkpoints_says_what_a_fold_of_everything_says(
    seed: int, pages: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(snapshots, "PAGES_DAYS", pages)
    rng = random.Random(seed)
    shared = Shared(tmp_path)
    segments = history(rng, 70)
    if seed % 2:
        rng.shuffle(segments)
    ids: list[str] = []
    for n, (writer, run, entries) in enumerate(segments):
        shared.seal(entries, writer, run)
        ids += [one.id for one in entries]
        if rng.random() < 0.3 or n == len(segments) - 1:
            whole = told(shared.anew(), ids)
            assert told(shared.start(), ids) == whole
            assert told(shared.start(), ids) == whole


def sixty_days(shared: Shared) -> None:
    """Add sixty days and one, of ten readings each, a segment a day."""
    for day in range(61):
        days = Days(SITE)
        if day == 0:
            days.stock(hours=0)
        for n in range(10):
            days.write(e.Reading, 24 * day + n / 10, place="T1", measure="oxygen", value=f"6.{n}",
                       unit="mg/L")  # fmt: skip
        run = f"run{day:03d}"
        entries = [_named(x, f"aaaaaa-{run}-{k}") for k, x in enumerate(days.entries, 1)]
        shared.seal(entries, "aaaaaa", run)


def test_a_start_notices_what_comes_goes_or_is_changed_among_the_days_long_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    days = iter(f"2026-05-{day:02d}" for day in range(9, 32))
    monkeypatch.setattr(snapshots, "PAGES_DAYS", 10)
    shared, end = Shared(tmp_path), NOW + timedelta(days=60)
    sixty_days(shared)
    files = sorted((tmp_path / "records" / "sealed" / "aaaaaa").iterdir())

    def a_new_day() -> None:
        today = date.fromisoformat(next(days))
        monkeypatch.setattr(index, "date", SimpleNamespace(today=lambda: today))

    def start() -> tuple[int, int]:
        """Start and keep what was made; how many segments are known by it, how many readings."""
        for folder in files[0].parent.parent.iterdir():
            os.utime(folder, (1.7e9, 1.7e9))  # as where nobody tells that a folder changed
        snapshot = shared.snapshot()
        farm = snapshot.open(end)
        known, reads = len(snapshot.book.index.near), farm.reads("T1", "oxygen")
        if (ended := snapshot.ended(farm, end)) is not None:
            snapshot.keep(ended, end)
        assert reads == shared.anew().reads("T1", "oxygen")
        return known, len(reads)

    a_new_day()
    assert start() == (61, 610)
    assert start() == (39, 610)  # those of April and May: March stays folded up

    late = Days(SITE, "bbbbbb")
    late.write(e.Reading, 24 * 5, place="T1", measure="oxygen", value="9.9", unit="mg/L")
    shared.seal([_named(late.entries[0], "bbbbbb-run001-1")], "bbbbbb", "run001")
    assert start() == (62, 611)
    assert start() == (39, 611)

    fix = Days(SITE, "bbbbbb")
    fix.write(e.Correction, 24 * 60, of="aaaaaa-run008-3", set={"value": "9.1"})
    shared.seal([_named(fix.entries[0], "bbbbbb-run002-1")], "bbbbbb", "run002")
    assert start() == (63, 611)
    assert start() == (40, 611)

    files[3].unlink()
    assert start() == (62, 601)
    assert start() == (40, 601)

    whole = files[4].read_bytes()
    files[4].write_bytes(whole.replace(b'"6.3"', b'"6.x"'))
    a_new_day()
    assert start()[1] == 600
    assert start() == (41, 600)  # the damaged one is looked at every time
    files[4].write_bytes(whole)
    assert start()[1] == 601
    assert start() == (40, 601)
    a_new_day()
    assert start() == (40, 601)


def test_a_start_reads_only_the_days_since_and_a_late_entry_only_from_its_day_on(
    tmp_path: Path,
) -> None:
    shared, today = Shared(tmp_path), NOW + timedelta(days=60)
    sixty_days(shared)
    first = shared.snapshot()
    assert first.open(today).size == first.read == 61 * 11 + 1
    again = shared.snapshot()
    farm = again.open(today)
    assert again.read == 11
    assert len(farm.reads("T1", "oxygen")) == 610

    late = Days(SITE, "bbbbbb")
    dead = late.write(e.Died, 24 * 57, lot="L1", place="T1", count=3)
    assert not farm.takes(dead)
    with pytest.raises(Earlier):
        farm.add(dead)
    shared.seal([_named(dead, "bbbbbb-run001-1")], "bbbbbb", "run001")
    after = shared.snapshot()
    assert after.open(today).stocks == shared.anew().stocks
    assert after.read < 6 * 11


def test_a_cache_that_is_damaged_foreign_or_cannot_be_written_changes_nothing(
    tmp_path: Path,
) -> None:
    shared = Shared(tmp_path)
    for writer, run, entries in history(random.Random(4), 40):
        shared.seal(entries, writer, run)
    whole = told(shared.anew(), [])
    shared.start()
    for path in (tmp_path / "cache").rglob("*.mp"):
        path.write_bytes(path.read_bytes()[:-7])
    assert told(shared.start(), []) == whole
    for path in (tmp_path / "cache").rglob("*.mp"):
        data = path.read_bytes()
        middle = len(data) // 2
        path.write_bytes(data[:middle] + bytes([data[middle] ^ 1]) + data[middle + 1 :])
    assert told(shared.start(), []) == whole
    for path in (tmp_path / "cache").rglob("*.mp"):
        put(path, b"\x91" * 100_000)  # sound, and deeper than any decoder goes
    assert told(shared.start(), []) == whole
    for junk in (b"\x91" * 100_000 + b"\x90", b"\x91\x92\x01\x02", b"\x01"):
        for path in (tmp_path / "cache" / "days").iterdir():
            page = msgspec.msgpack.decode(got(path), type=Page)
            spans = (0, len(junk)) if len(junk) > 1 else ()
            starts = b"".join(n.to_bytes(4, "big") for n in spans) * page.names.count("\t")
            put(path, msgspec.msgpack.encode(replace(page, starts=starts, series=junk)))
        assert told(shared.start(), []) == whole
    shutil.rmtree(tmp_path / "cache")
    (tmp_path / "cache").write_text("in the way")
    assert told(shared.start(), []) == whole


def test_pages_of_which_newer_ones_were_made_do_not_pile_up(tmp_path: Path) -> None:
    shared = Shared(tmp_path)
    for writer, run, entries in history(random.Random(4), 40):
        shared.seal(entries, writer, run)
        shared.start()
    days = [path.name[:10] for path in (tmp_path / "cache" / "days").iterdir()]
    assert len(days) > 5
    assert len(days) == len(set(days))


def test_a_segment_that_vanished_takes_its_entries_with_it(tmp_path: Path) -> None:
    shared = Shared(tmp_path)
    for writer, run, entries in history(random.Random(6), 40):
        shared.seal(entries, writer, run)
    shared.start()
    gone = sorted((tmp_path / "records" / "sealed" / "aaaaaa").iterdir())[2]
    gone.unlink()
    assert told(shared.start(), []) == told(shared.anew(), [])


def test_a_segment_that_rots_and_is_healed_under_its_name_loses_its_entries_and_has_them_back(
    tmp_path: Path,
) -> None:
    shared, days = Shared(tmp_path), Days(SITE)
    days.stock(hours=0)
    days.write(e.Reading, 1, place="T1", measure="oxygen", value="6.1", unit="mg/L")
    days.write(e.Died, 2, lot="L1", place="T1", count=3)
    entries = [_named(x, f"aaaaaa-run001-{k}") for k, x in enumerate(days.entries, 1)]
    shared.seal(entries, "aaaaaa", "run001")
    for writer, run, more in history(random.Random(6), 10):
        shared.seal(more, writer.replace("a", "c"), run)
    (path,) = (tmp_path / "records" / "sealed" / "aaaaaa").iterdir()
    whole = path.read_bytes()
    path.write_bytes(whole.replace(b'"died"', b'"dieD"'))
    assert not shared.start().dead("T1")
    path.write_bytes(whole)
    for _ in range(2):
        assert [one.count for one in shared.start().dead("T1")] == [3]
    path.write_bytes(whole.replace(b'"died"', b'"dieD"'))
    assert not shared.start().dead("T1")


def test_entries_of_unknown_kinds_are_counted_from_a_checkpoint_too(tmp_path: Path) -> None:
    shared, days = Shared(tmp_path), Days(SITE)
    days.stock(hours=0)
    shared.seal([_named(x, "aaaaaa-run001-1") for x in days.entries[:1]], "aaaaaa", "run001")
    (path,) = (tmp_path / "records" / "sealed" / "aaaaaa").iterdir()
    head, body = (line[:-40] + b"}" for line in path.read_bytes().splitlines())
    newer = body.replace(b'"stocked"', b'"treated"').replace(b"run001-1", b"run001-2")
    data = chained((head, body, newer))
    path.unlink()
    name = f"{path.name[:16]}{sha256(data).hexdigest()[:32]}.jsonl"
    path.with_name(name).write_bytes(data)
    assert [shared.start().unknown for _ in range(2)] == [1, 1]
