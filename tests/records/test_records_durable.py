"""A rename that another program holds up for a moment, as Windows does, is tried again."""

from __future__ import annotations

from pathlib import Path

import pytest

from rounds.records.durable import write_new


@pytest.fixture
def waits(monkeypatch):
    waited: list[float] = []
    monkeypatch.setattr("rounds.records.durable.time.sleep", waited.append)
    return waited


def _held(monkeypatch, code: int, times: int) -> None:
    real = Path.replace
    tries = iter(range(100))

    def replace(self, target):
        if next(tries) < times:
            error = PermissionError(13, "held by another program", str(self))
            error.winerror = code
            raise error
        return real(self, target)

    monkeypatch.setattr(Path, "replace", replace)


@pytest.mark.parametrize("code", [5, 32, 33])
def test_a_held_file_gets_its_name_a_moment_later(tmp_path, monkeypatch, waits, code):
    _held(monkeypatch, code, 3)
    write_new(tmp_path / "a", b"data")
    assert (tmp_path / "a").read_bytes() == b"data"
    assert waits == [0.05, 0.1, 0.2]


def test_after_two_seconds_it_is_told_and_nothing_is_left(tmp_path, monkeypatch, waits):
    _held(monkeypatch, 32, 100)
    with pytest.raises(PermissionError):
        write_new(tmp_path / "a", b"data")
    assert sum(waits) == pytest.approx(2)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("code", [3, None])
def test_another_error_is_told_at_once(tmp_path, monkeypatch, waits, code):
    _held(monkeypatch, code, 100)
    with pytest.raises(PermissionError):
        write_new(tmp_path / "a", b"data")
    assert waits == []
