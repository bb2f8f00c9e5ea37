"""Safe in how many places: what was listed, and what other laptops say they had seen."""

from __future__ import annotations

import shutil
import time

import pytest
from record_making import SITE, bodies, chained, reading, sealed_name
from syncing import synced

from rounds.records import identity, safety
from rounds.records.memory import recall, remember
from rounds.records.safety import HERE, safe


def places(laptop) -> list[tuple[str, ...]]:
    return [one.places for one in safe(laptop.here().folder, SITE)]


def test_before_a_sync_it_is_in_one_place(laptops):
    a, *_ = laptops
    assert places(a) == []
    a.write("1")
    assert places(a) == [(HERE,)]


def test_an_address_counts_by_what_it_listed(laptops, stick):
    a, *_ = laptops
    a.write("1")
    synced(a, stick)
    assert places(a) == [(HERE, str(stick))]
    a.write("2")
    assert places(a) == [(HERE,)]  # of the same day, and not there yet
    synced(a, stick)
    assert places(a) == [(HERE, str(stick))]


def test_an_address_not_seen_for_a_month_counts_no_more(laptops, stick):
    a, *_ = laptops
    a.write("1")
    synced(a, stick)
    memory = recall(a.folder, str(stick))
    memory.done -= 31 * 24 * 3600
    remember(a.folder, memory)
    assert places(a) == [(HERE,)]


def test_another_laptop_counts_for_what_it_says_it_has_seen(laptops, stick):
    a, b, _ = laptops
    a.write("1")
    synced(a, stick)
    synced(b, stick)
    assert places(a) == [(HERE, str(stick))]  # it has not said so
    b.write("2")
    synced(b, stick)
    synced(a, stick)
    assert places(a) == [(HERE, b.here().book().writer, str(stick))]


def test_what_is_still_open_is_here_only(laptops, stick):
    a, *_ = laptops
    a.write("1")
    synced(a, stick)
    with a.book() as book:
        book.append(reading("2"))
        assert places(a) == [(HERE,)]


def test_each_day_by_itself_with_what_may_reach_into_it(laptops, stick):
    a, *_ = laptops
    a.write("1")
    synced(a, stick)
    a.clocks.pass_s(24 * 3600)
    a.write("2")
    found = safe(a.here().folder, SITE)
    assert [(one.day, len(one.places)) for one in found] == [("2026-11-25", 1), ("2026-11-24", 2)]


def test_a_cache_that_is_gone_or_junk_forgets_only(laptops, stick):
    a, *_ = laptops
    a.write("1")
    synced(a, stick)
    (path,) = (a.folder / "cache" / "sync").iterdir()
    path.write_bytes(b"[" * 10_000)
    assert places(a) == [(HERE,)]
    assert recall(a.folder, str(stick)).done == 0
    shutil.rmtree(a.folder / "cache")
    assert (synced(a, stick).sent, recall(a.folder, str(stick)).files != ()) == (0, True)


def test_what_is_remembered_of_an_address(laptops, stick):
    a, *_ = laptops
    a.write("1")
    began = time.time()
    synced(a, stick)
    memory = recall(a.folder, str(stick))
    assert began <= memory.tried <= memory.done
    assert memory.failed == ""
    assert [f.writer for f in memory.files] == [a.here().book().writer]


def test_a_program_that_ends_meanwhile_stops_nothing(laptops, monkeypatch):
    a, *_ = laptops
    with a.book() as book:
        book.append(reading("1"))
        real = safety.header

        def sealed_first(path):
            book.close()
            return real(path)

        monkeypatch.setattr(safety, "header", sealed_first)
        assert places(a) == [(HERE,)]


@pytest.mark.parametrize("done", [-1.0, 1e300])
def test_a_time_that_is_none_is_no_memory(laptops, stick, done):
    a, *_ = laptops
    a.write("1")
    synced(a, stick)
    memory = recall(a.folder, str(stick))
    memory.done = done
    remember(a.folder, memory)
    assert recall(a.folder, str(stick)).done == 0
    assert places(a) == [(HERE,)]


def _sealed(laptop, seg: int, day: str = "2026-11-24", **header) -> str:
    """Lay a sealed segment into a laptop's records; return how others name it."""
    first, *rest = bodies(1, seg=seg, **header)
    data = chained([first.replace(b"2026-11-24", day.encode()), *rest])
    folder = laptop.records / "sealed" / header.get("writer", "k7q2md")
    folder.mkdir(parents=True, exist_ok=True)
    name = sealed_name(data, seg=seg, day=day.replace("-", ""))
    (folder / name).write_bytes(data)
    return f"{seg}:{name[16:48]}"


def test_a_laptop_that_was_copied_holds_what_it_wrote_and_not_what_its_copy_wrote(laptop):
    _sealed(laptop, 1, run="aaaaaa")
    _sealed(laptop, 2, run="aaaaaa")
    _sealed(laptop, 2, run="bbbbbb")
    _sealed(laptop, 3, "2026-11-25", run="bbbbbb")
    assert [one.places for one in safe(laptop.here().folder, SITE)] == [(HERE,), (HERE,)]


def test_who_saw_one_of_two_that_wrote_under_one_name_may_lack_the_other(laptop):
    _sealed(laptop, 1, "2026-11-21", run="aaaaaa")
    _sealed(laptop, 2, "2026-11-22", run="aaaaaa")
    head = _sealed(laptop, 3, "2026-11-23", run="aaaaaa")
    _sealed(laptop, 1, "2026-11-23", writer="p3x9tf", seen={"k7q2md": head})
    both = (HERE, "p3x9tf")
    days = {
        one.day[-2:]: one.places for one in safe(laptop.here().folder, SITE, retired=["k7q2md"])
    }
    assert days == {"23": both, "22": both, "21": both}
    _sealed(laptop, 3, "2026-11-24", run="bbbbbb")
    days = {
        one.day[-2:]: one.places for one in safe(laptop.here().folder, SITE, retired=["k7q2md"])
    }
    assert days == {"24": (HERE,), "23": both, "22": both, "21": both}
    _sealed(laptop, 2, "2026-11-22", run="bbbbbb")
    days = {
        one.day[-2:]: one.places for one in safe(laptop.here().folder, SITE, retired=["k7q2md"])
    }
    assert days == {"24": (HERE,), "23": (HERE,), "22": (HERE,), "21": both}


def test_who_saw_what_is_not_here_is_not_counted_for_what_is(laptop):
    _sealed(laptop, 1)
    _sealed(laptop, 1, writer="p3x9tf", seen={"k7q2md": f"7:{'0' * 32}"})
    assert [one.places for one in safe(laptop.here().folder, SITE, retired=["k7q2md"])] == [(HERE,)]


def test_a_laptop_that_is_retired_is_no_place(laptop):
    _sealed(laptop, 1)
    head = _sealed(laptop, 2)
    _sealed(laptop, 1, "2026-11-25", writer="p3x9tf", seen={"k7q2md": head})
    newest = safe(laptop.here().folder, SITE)[-1]
    assert newest.places == (HERE, "k7q2md", "p3x9tf")
    assert safe(laptop.folder, SITE, retired=["p3x9tf"])[-1].places == (HERE, "k7q2md")


def test_a_name_this_machine_had_before_is_no_other_place(laptops, stick):
    a, b, _ = laptops
    a.write("1")
    a.folder = a.folder.rename(a.folder.with_name("moved"))
    a.records = a.folder / "records"
    a.write("2")  # under a new name
    assert len(list((a.records / "sealed").iterdir())) == 2
    assert places(a) == [(HERE,)]
    identity.forget_writer_id(a.folder, SITE)
    a.write("3")
    assert len(list((a.records / "sealed").iterdir())) == 3
    assert places(a) == [(HERE,)]
    shutil.copytree(a.records, b.records)  # to another machine they are others
    assert len(places(b)[0]) > 1


def test_a_folder_on_the_disk_of_the_site_is_no_second_place(laptops, tmp_path):
    a, *_ = laptops
    a.write("1")
    (tmp_path / "beside").mkdir()
    assert synced(a, tmp_path / "beside").same_disk
    assert places(a) == [(HERE,)]
