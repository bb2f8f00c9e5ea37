"""Months in one piece: a first sync fetches them, and lets nothing in that it would not else."""

from __future__ import annotations

import zlib

import pytest
from fsspec.implementations.memory import MemoryFileSystem
from record_making import SITE, sealed_name, segment, values
from syncing import knows, sealed

from rounds.records.bundles import MAX_RAW, packed, unpacked
from rounds.records.layout import SealedFile
from rounds.records.remote import RemoteCarrier
from rounds.records.sync import sync

MONTH = 40


@pytest.fixture
def address(tmp_path):
    MemoryFileSystem().makedirs(f"/{tmp_path.name}")
    return f"memory://{tmp_path.name}"


@pytest.fixture
def full(laptops):
    """A laptop with a month of segments, long over."""
    a, *_ = laptops
    folder = a.records / "sealed" / "k7q2md"
    folder.mkdir(parents=True)
    for seg in range(1, MONTH + 1):
        data = segment(2, seg=seg, run=f"r{seg:05d}")
        (folder / sealed_name(data, seg, "20250610")).write_bytes(data)
    return a


def files(laptop) -> list[SealedFile]:
    return [
        SealedFile(name[:6], int(name[7:13]), name[14:22], name[23:55]) for name in sealed(laptop)
    ]


def bundle(address) -> str:
    (path,) = MemoryFileSystem().ls(f"/{address[9:]}/{SITE}/bundles", detail=False)
    return path


@pytest.fixture
def read_names(monkeypatch):
    """The names that were read at the address."""
    names: list[str] = []
    real = RemoteCarrier.read

    def read(self, name, cap):
        names.append(name)
        return real(self, name, cap)

    monkeypatch.setattr(RemoteCarrier, "read", read)
    return names


def test_what_is_packed_unpacks(full):
    tree = full.records / "sealed"
    found = dict(unpacked(packed(tree, files(full))))
    assert {file.name: data for file, data in found.items()} == sealed(full)


def test_a_first_sync_fetches_the_month_in_one_piece(full, laptops, address, read_names):
    _, b, _ = laptops
    sync(full.here().folder, SITE, address)
    read_names.clear()
    report = sync(b.here().folder, SITE, address)
    assert (report.fetched, report.strange) == (MONTH, 0)
    assert len(read_names) == 1
    assert sealed(b) == sealed(full)
    again = sync(b.here().folder, SITE, address)
    assert (again.fetched, again.sent) == (0, 0)


@pytest.mark.parametrize("how", ["cut", "changed", "junk", "bomb"])
def test_a_bundle_that_is_bad_costs_itself_only(full, laptops, address, how):
    _, b, _ = laptops
    sync(full.here().folder, SITE, address)
    path = bundle(address)
    data = MemoryFileSystem().cat_file(path)
    bad = {
        "cut": data[:-40],
        "changed": data[:300] + bytes([data[300] ^ 1]) + data[301:],
        "junk": b"junk",
        "bomb": zlib.compress(b"\0" * (MAX_RAW + 1_000_000), wbits=31),
    }[how]
    from hashlib import sha256

    if how != "changed":  # well named, and still no bundle
        MemoryFileSystem().rm_file(path)
        path = f"{path[: path.rindex('_')]}_{sha256(bad).hexdigest()[:32]}.gz"
    MemoryFileSystem().pipe_file(path, bad)
    assert sync(b.here().folder, SITE, address).fetched == MONTH
    assert sealed(b) == sealed(full)


def test_what_is_forged_in_a_bundle_is_not_let_in(full, laptops, address):
    _, b, _ = laptops
    sync(full.here().folder, SITE, address)
    path = bundle(address)
    raw = zlib.decompress(MemoryFileSystem().cat_file(path), wbits=31)
    forged = zlib.compress(raw.replace(b'"6.10"', b'"9.10"'), wbits=31)
    from hashlib import sha256

    MemoryFileSystem().rm_file(path)
    named = f"{path[: path.rindex('_')]}_{sha256(forged).hexdigest()[:32]}.gz"
    MemoryFileSystem().pipe_file(named, forged)
    sync(b.here().folder, SITE, address)
    assert sealed(b) == sealed(full)
    assert set(values(b.read())) == {"6.10", "7.20"}


def test_a_stranger_does_not_come_in_by_a_bundle(full, laptops, address):
    _, b, _ = laptops
    sync(full.here().folder, SITE, address)
    b.write("1")
    report = sync(b.here().folder, SITE, address)
    assert (report.fetched, report.newcomers[0].files) == (0, MONTH)
    assert values(b.read()) == ["1"]
    knows(b, "k7q2md")
    assert sync(b.here().folder, SITE, address).fetched == MONTH


@pytest.mark.parametrize(
    "raw",
    [
        b"k7q2md/../../x 5\n12345",
        b"k7q2md/000001_20250610_" + b"0" * 32 + b".jsonl 9999999\nx",
        b"k7q2md/000001_20250610_" + b"0" * 32 + b".jsonl 5\n1234",
        b"k7q2md/000001_20250610_" + b"0" * 32 + b".jsonl.want 1\n1",
        b"\xff 5\n12345",
        b"",
    ],
)
def test_names_and_lengths_that_are_none_end_the_reading(raw):
    assert list(unpacked(zlib.compress(raw, wbits=31))) == []


def test_a_month_under_way_and_a_small_one_are_not_bundled(laptops, address):
    a, *_ = laptops
    folder = a.records / "sealed" / "k7q2md"
    folder.mkdir(parents=True)
    data = segment(2)
    (folder / sealed_name(data, 1, "20250610")).write_bytes(data)
    sync(a.here().folder, SITE, address)
    assert not MemoryFileSystem().exists(f"/{address[9:]}/{SITE}/bundles")
