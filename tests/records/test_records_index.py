"""What a start lists of thousands of sealed files: folders that changed, and nothing is missed."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from record_making import sealed_segments, values

from rounds.records import index as indices
from rounds.records import reading as module
from rounds.records.book import Book


@pytest.fixture
def listed(monkeypatch) -> list[Path]:
    """Return the folders of sealed files that are listed from here on."""
    found: list[Path] = []
    real = os.listdir

    def listdir(at: Path) -> list[str]:
        found.extend([at] if at.parent.name == "sealed" else [])
        return real(at)

    monkeypatch.setattr(os, "listdir", listdir)
    return found


def start(laptop) -> tuple[Book, list[str]]:
    """Start, and keep what was read; the book, and the values that came new."""
    for folder in (laptop.records / "sealed").iterdir():
        if folder.stat().st_mtime > 1.7e9:
            os.utime(folder, (1.7e9, 1.7e9))  # it rested
    book = laptop.book(read_only=True)
    new = [entry for _, entries in book.resume() for entry in entries]
    if book.index.changed:
        book.index.save(book.cache, "")
    return book, values(new)


def test_a_folder_that_is_as_it_was_is_not_listed_until_the_book_looks_again(laptop, listed):
    laptop.write("1")
    assert start(laptop)[1] == ["1"]
    listed.clear()
    book, new = start(laptop)
    assert (new, listed) == ([], [])
    assert book.index.touching("2000-01-01", "2100-01-01")
    laptop.write("2")
    assert start(laptop)[1] == ["2"]
    assert len(listed) == 1


def test_what_comes_where_folders_tell_nothing_is_found_at_the_first_look(
    laptop, monkeypatch, listed
):
    laptop.write("1")
    monkeypatch.setattr(module, "stamp", lambda folder: (1, 2, 3))
    start(laptop)
    laptop.write("2")
    listed.clear()
    book, new = start(laptop)
    assert (new, listed) == ([], [])
    assert values(book.new_entries()) == ["2"]


def test_a_cache_whose_folder_is_older_than_what_lies_in_it_is_not_trusted(
    laptop, monkeypatch, listed
):
    laptop.write("1")
    start(laptop)
    cache = laptop.folder / "cache"
    os.utime(cache, (1.7e9, 1.7e9))
    listed.clear()
    assert start(laptop)[1] == []
    assert len(listed) == 1


def test_on_a_new_day_every_folder_is_listed(laptop, monkeypatch, listed):
    class Tomorrow(indices.date):
        @classmethod
        def today(cls):
            return cls(2126, 1, 1)

    laptop.write("1")
    start(laptop)
    listed.clear()
    monkeypatch.setattr(indices, "date", Tomorrow)
    start(laptop)
    assert len(listed) == 1


@pytest.mark.parametrize("how", ["changed", "forgotten"])
def test_a_file_that_is_not_what_was_read_is_read_anew_though_its_folder_is_as_it_was(laptop, how):
    laptop.write("1")
    laptop.write("2")
    start(laptop)
    one, _ = sealed_segments(laptop)
    if how == "changed":
        one.chmod(0o600)
        os.utime(one, (1.6e9, 1.6e9))
    else:
        book, _ = start(laptop)
        book.index.forget([f"{one.parent.name}/{one.name}"])
        book.index.save(book.cache, "")
    assert start(laptop)[1] == ["1"]
    assert start(laptop)[1] == []
