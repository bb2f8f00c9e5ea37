"""A long reading of the book tells a person at a terminal how far it is, and nobody else."""

from __future__ import annotations

import pytest

from rounds.cli import opened


@pytest.mark.parametrize("terminal", [True, False])
def test_a_long_reading_is_told_on_one_line_and_taken_away(
    terminal: bool, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    seconds = iter((0.0, 0.1, 0.9, 1.0, 2.0))
    monkeypatch.setattr("rounds.cli.opened.time.monotonic", lambda: next(seconds))
    monkeypatch.setattr("sys.stderr.isatty", lambda: terminal)
    progress = opened._Progress()
    for done in (1, 812, 813, 5478):
        progress.tell(done, 5478)
    progress.end()
    told = capsys.readouterr().err.split("\r")
    if terminal:
        assert [one.removesuffix("\x1b[K") for one in told] == [
            "", "Reading the book: 812 of 5 478 files", "Reading the book", "",
        ]  # fmt: skip
    else:
        assert told == [""]
