"""`rounds sync`: a file that was refused is told, and "all" is said of no more than the rest."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

Run = Callable[..., Any]


def test_a_refused_file_is_told_and_not_all_is_written(
    rounds: Run, farm: Path, tmp_path: Path
) -> None:
    other = Path(shutil.copytree(farm, tmp_path / "other"))
    stick = tmp_path / "stick"
    stick.mkdir()
    known = {path.name for path in (farm / "records").rglob("*.jsonl")}
    rounds("--site", farm, "--by", "ana", "walk", "live-food", typed="320\ny\n31\ny\n200\ny\n")
    assert "  All is written" in f"  {rounds('--site', farm, 'sync', stick).out}".replace(
        "\n", "  "
    )
    (sent,) = [path for path in stick.rglob("*.jsonl") if path.name not in known]
    sent.chmod(0o600)
    sent.write_bytes(sent.read_bytes().replace(b'"320"', b'"321"'))
    for words in ("REFUSED there", "refused before"):
        ran = rounds("--site", other, "sync", stick)
        assert words in ran.out
        assert "All is written" not in ran.out
        assert "OK" not in ran.out
