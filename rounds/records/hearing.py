"""When each laptop was last heard: the time of its newest entry, wherever that lies."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from rounds.records.durable import NotPlain
from rounds.records.entry import Entry
from rounds.records.layout import SealedFile, open_files, sealed_tree
from rounds.records.segment import scan


def newest_times(records: Path, files: Iterable[SealedFile]) -> dict[str, str]:
    """Return the time of the newest entry of each laptop ("2026-11-24T07:02:35.323Z").

    Args:
        records: The records folder.
        files: The sealed files that are here.

    Returns:
        By writer id; a laptop whose newest segment cannot be read is left out.
    """
    tree = sealed_tree(records)
    last: dict[str, list[SealedFile]] = {}
    for file in files:
        those = last.setdefault(file.writer, [file])
        if file.seg > those[0].seg:
            last[file.writer] = [file]
        elif file.seg == those[0].seg and file is not those[0]:
            those.append(file)
    newest = {writer: [file.path(tree) for file in those] for writer, those in last.items()}
    for running in open_files(records):
        newest.setdefault(running.writer, []).append(running.path(records))
    times = {writer: max(map(_last, paths), default="") for writer, paths in newest.items()}
    return {writer: t for writer, t in times.items() if t}


def _last(path: Path) -> str:
    try:
        lines = scan(path).lines
    except (NotPlain, OSError):
        return ""
    return max((line.entry.t for line in lines if isinstance(line.entry, Entry)), default="")
