"""Verifying: is the book what was written? Names file and line, and says what it cannot know."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from pathlib import Path

from msgspec import Struct, field

from rounds.records.durable import NotPlain
from rounds.records.entry import Damage, Open
from rounds.records.gaps import absent, named
from rounds.records.layout import (
    OpenFile,
    SealedFile,
    checked_site_id,
    listed,
    open_files,
    sealed_tree,
)
from rounds.records.mending import distrust
from rounds.records.reading import Given
from rounds.records.segment import Scan, scan
from rounds.records.taking import misplaced


class Finding(Struct, frozen=True):
    """One thing that is not as it was written."""

    file: str
    line: int
    """From 1; 0 for the whole file."""
    says: str


class Report(Struct, frozen=True):
    """What was checked, what was found, and what no check of these files can tell."""

    files: int
    entries: int
    findings: tuple[Finding, ...]
    heads: Mapping[str, str]
    """The newest sealed segment of each laptop, "<seg>:<digest>"; on paper, they are a witness."""
    cannot_know: tuple[str, ...]
    notes: tuple[Finding, ...] = ()
    """What is as it was written and has its explanation: no damage, and it will stay so."""


class _Check(Struct):
    files: int = 0
    entries: int = 0
    findings: list[Finding] = field(default_factory=list)
    headers: dict[SealedFile, Open] = field(default_factory=dict)
    given: Given = field(default_factory=Given)
    notes: list[Finding] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)
    """Sealed files that are not what their name says."""

    def tell(self, file: str, line: int, says: str) -> None:
        self.findings.append(Finding(file, line, says))


def verify(folder: Path, site_id: str) -> Report:
    """Check every segment of a site: lines, names, numbers, predecessors and witnesses.

    Args:
        folder: The site's folder.
        site_id: Its id.

    Returns:
        The report. No record is written; a damaged file is one that the next sync asks for.

    Raises:
        ValueError: The site id is none.
        OSError: The records folder cannot be listed.
    """
    checked_site_id(site_id)
    records = folder / "records"
    tree = sealed_tree(records)
    check = _Check()
    running = open_files(records)
    found = listed(tree)
    for name in found.strangers:
        check.tell(name, 0, "is no segment of the book")
    for sealed in found.files:
        _segment(check, sealed, sealed.path(tree), site_id)
    if check.changed:
        distrust(folder, site_id, found.files, check.changed)
    for file in running:
        _segment(check, file, file.path(records), site_id)
    _numbers(check, found.files, running)
    _predecessors(check, found.files)
    witnessed = _witnesses(check, found.files)
    heads = {file.writer: file.head for file in found.files}
    return Report(
        check.files,
        check.entries,
        tuple(check.findings),
        heads,
        tuple(_cannot_know(heads, witnessed)),
        tuple(check.notes),
    )


def _segment(check: _Check, file: OpenFile | SealedFile, path: Path, site_id: str) -> None:
    try:
        found = scan(path)
    except FileNotFoundError:
        return  # sealed meanwhile
    except (NotPlain, OSError) as error:
        why = error.strerror if isinstance(error, OSError) else error
        check.tell(file.name, 0, f"cannot be read: {why}")
        return
    check.files += 1
    if refused := misplaced(found, file, site_id):
        check.tell(file.name, 0, refused)
    for bad in found.bad:
        check.tell(file.name, bad.number, bad.reason)
    if isinstance(file, SealedFile):
        if found.torn:
            check.tell(file.name, 0, "ends in the middle of a line")
        if found.digest != file.digest:
            check.tell(
                file.name,
                0,
                "is not what its name says: changed after sealing. "
                "Sync: where it lies whole it is fetched from",
            )
            check.changed.append(file.name)
        if found.header is not None:
            check.headers[file] = found.header
            if not found.header.app:
                check.tell(file.name, 1, "was lost, and made again when the file was sealed")
    _count(check, file.name, found)


def _count(check: _Check, name: str, found: Scan) -> None:
    for line in found.lines:
        entry = line.entry
        same = check.given.add(entry.id, line.body)
        if same is None:
            check.entries += not isinstance(entry, Open)
        elif not same:
            check.tell(name, line.number, f"{entry.id} was written before, differently")
        if isinstance(entry, Damage):
            check.tell(
                name,
                line.number,
                f"stands for line {entry.line} of {entry.file}, which could not be read when it "
                "was sealed: its bytes lie in records/aside, the lines below it were chained anew",
            )


def _numbers(check: _Check, files: Iterable[SealedFile], running: Iterable[OpenFile]) -> None:
    """Find numbers that are missing or were given twice: of whole files by a copied laptop."""
    damaged = {one.file for one in check.findings}
    sealed: dict[str, dict[int, SealedFile]] = defaultdict(dict)
    used: dict[str, set[int]] = defaultdict(set)
    for file in files:
        other = sealed[file.writer].setdefault(file.seg, file)
        if other is not file:
            says = f"has the number of {other.name}: this laptop was copied or restored"
            if damaged.isdisjoint((file.name, other.name)):
                says += ", and both wrote. Both files are whole, and both count"
                check.notes.append(Finding(file.name, 0, says))
            else:
                check.tell(file.name, 0, says)
        used[file.writer].add(file.seg)
    for open_file in running:
        used[open_file.writer].add(open_file.seg)
    for writer, numbers in used.items():
        if lost := absent(numbers):
            check.tell(f"{writer}/", 0, f"{named(lost)} missing, of {max(numbers)}: sync")


def _predecessors(check: _Check, files: Iterable[SealedFile]) -> None:
    """Find segments that a later one of the same laptop names and that are not here."""
    digests: dict[str, dict[str, int]] = defaultdict(dict)
    for file in files:
        digests[file.writer][file.digest] = file.seg
    for file, header in check.headers.items():
        for digest in header.prev.split():
            if digests[file.writer].get(digest, file.seg) >= file.seg:
                check.tell(
                    file.name,
                    1,
                    f"names a segment {digest} before it that is not here: it was changed, "
                    "removed, or has not come by sync",
                )


def _witnesses(check: _Check, files: Iterable[SealedFile]) -> dict[str, int]:
    """Compare with what other laptops saw; return how far each laptop was seen by another."""
    heads = {(file.writer, file.head) for file in files}
    witnessed: dict[str, int] = {}
    for file, header in check.headers.items():
        for writer, head in header.seen.items():
            if writer == file.writer:
                continue
            if (writer, head) in heads:
                witnessed[writer] = max(witnessed.get(writer, 0), int(head.partition(":")[0]))
            else:
                check.tell(
                    file.name,
                    1,
                    f"{file.writer} saw segment {head} of {writer}, which is not here: it was "
                    "changed, removed, or has not come by sync",
                )
    return witnessed


def _cannot_know(heads: Mapping[str, str], witnessed: Mapping[str, int]) -> Iterable[str]:
    for writer, head in heads.items():
        seg = int(head.partition(":")[0])
        seen = witnessed.get(writer, 0)
        if seen < seg:
            what = f"segments {seen + 1} to {seg}" if seen + 1 < seg else f"segment {seg}"
            yield (
                f"No other laptop has seen {what} of {writer}: whoever owns that laptop could "
                "have written them anew. Compare with the heads on a printed sheet."
            )
    yield "Whether the newest segments of a laptop were removed before another laptop saw them."
    yield "Whether what was typed was true."
