"""Laptops and a stick for the tests of the records."""

from __future__ import annotations

import pytest
from record_making import Laptop


@pytest.fixture
def laptop(tmp_path, monkeypatch):
    return Laptop(tmp_path, "a", monkeypatch)


@pytest.fixture
def laptops(tmp_path, monkeypatch):
    return [Laptop(tmp_path, name, monkeypatch) for name in "abc"]


@pytest.fixture
def stick(tmp_path, monkeypatch):
    monkeypatch.setattr("rounds.records.sync.same_disk", lambda *_: False)  # as on a real one
    (tmp_path / "stick").mkdir()
    return tmp_path / "stick"
