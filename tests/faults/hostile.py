"""Hostile files for a share or a stick: each kind of them must stay out of the book."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from random import Random

import msgspec

from rounds.records.decoding import encode
from rounds.records.entry import FORMAT, Note, Open
from rounds.records.segment import chained
from tests.faults.row import SITE

HOSTILE_TEXT = "let in by mistake"
STRANGER = "zzzzzz"
_COMMON = {"t": "2026-11-24T07:02:35.323Z", "off": "+00:00", "day": "2026-11-24"}


def plant(site: Path, chance: Random, writers: Sequence[str]) -> None:
    """Put one hostile thing of a random kind under an address."""
    site.mkdir(parents=True, exist_ok=True)
    writer = chance.choice([*writers, STRANGER]) if writers else STRANGER
    with suppress(FileExistsError):
        chance.choice(KINDS)(site, chance, writer)


def bodies(writer: str, seg: int, run: str, **header: object) -> list[bytes]:
    """A header and a note that nobody may ever read."""
    first = {"format": FORMAT, "site": SITE, "site_digest": "", "writer": writer, "seg": seg}
    first |= {"prev": "", "seen": {}, "app": "0.1.0"} | header
    return [
        encode(Open(id=f"{writer}-{run}-0", **_COMMON, **first)),  # type: ignore[arg-type]
        encode(Note(id=f"{writer}-{run}-1", **_COMMON, text=HOSTILE_TEXT)),
    ]


def _put(site: Path, writer: str, data: bytes, *, seg: int, digest: str = "") -> None:
    folder = site / writer
    folder.mkdir(parents=True, exist_ok=True)
    digest = digest or sha256(data).hexdigest()[:32]
    (folder / f"{seg:06d}_20261124_{digest}.jsonl").write_bytes(data)


def _line(site: Path, chance: Random, writer: str, spoil: Callable[[list[bytes]], bytes]) -> None:
    seg = chance.randrange(1, 999_999)
    _put(site, writer, spoil(bodies(writer, seg, "r4t9zb")), seg=seg)


def _wrong_digest(site: Path, chance: Random, writer: str) -> None:
    digest = chance.randbytes(16).hex()
    _put(site, writer, chained(bodies(writer, 7, "r4t9zb")), seg=7, digest=digest)


def _unknown_laptop(site: Path, chance: Random, writer: str) -> None:
    seg = chance.randrange(1, 50)
    _put(site, STRANGER, chained(bodies(STRANGER, seg, "r4t9zb")), seg=seg)


def _other_laptop_inside(site: Path, chance: Random, writer: str) -> None:
    _put(site, writer, chained(bodies(STRANGER, 8, "r4t9zb")), seg=8)


def _other_site(site: Path, chance: Random, writer: str) -> None:
    _put(site, writer, chained(bodies(writer, 9, "r4t9zb", site="aaaaaaaa")), seg=9)


def _other_number(site: Path, chance: Random, writer: str) -> None:
    _put(site, writer, chained(bodies(writer, 10, "r4t9zb")), seg=11)


def _newer_format(site: Path, chance: Random, writer: str) -> None:
    _put(site, writer, chained(bodies(writer, 12, "r4t9zb", format=FORMAT + 1)), seg=12)


def _broken_chain(site: Path, chance: Random, writer: str) -> None:
    _line(site, chance, writer, lambda b: chained(b).replace(b'"off":"+00:00"', b'"off":"+01:00"'))


def _no_header(site: Path, chance: Random, writer: str) -> None:
    _line(site, chance, writer, lambda b: chained(b[1:]))


def _torn(site: Path, chance: Random, writer: str) -> None:
    _line(site, chance, writer, lambda b: chained(b)[:-1])


def _not_json(site: Path, chance: Random, writer: str) -> None:
    value = chance.choice(
        (b"NaN", b"1e999", b"[" * 3000, b'{"a":1,"a":2}', b'"\xff"', b'"\\ud800"', b"9" * 5000)
    )
    _line(site, chance, writer, lambda b: chained([b[0], b[1][:-1] + b',"kind":%b}' % value]))


def _path_trick(site: Path, chance: Random, writer: str) -> None:
    name = chance.choice(
        ("..\\..\\x.jsonl", "000001_20261124_%2e%2e%2f.jsonl", "-rf", "con.jsonl", "\x1b[2J.jsonl",
         "000001_20261124_" + "A" * 32 + ".jsonl", "\u202elnosj.exe", "a" * 200, "x.jsonl\n")
    )  # fmt: skip
    folder = site / chance.choice((writer, "..." + writer, writer.upper()))
    folder.mkdir(exist_ok=True)
    (folder / name).write_bytes(chained(bodies(writer, 1, "r4t9zb")))


def _link(site: Path, chance: Random, writer: str) -> None:
    (site / writer).mkdir(exist_ok=True)
    target = chance.choice(("/etc/passwd", ".", "/dev/zero", "nowhere"))
    (site / writer / f"{chance.randrange(99):06d}_20261124_{'0' * 32}.jsonl").symlink_to(target)


def _loop(site: Path, chance: Random, writer: str) -> None:
    (site / chance.choice(("loopaa", "loopbb"))).symlink_to(".")


def _pipe(site: Path, chance: Random, writer: str) -> None:
    (site / writer).mkdir(exist_ok=True)
    os.mkfifo(site / writer / f"000002_20261124_{'1' * 32}.jsonl")


def _giant(site: Path, chance: Random, writer: str) -> None:
    (site / writer).mkdir(exist_ok=True)
    with (site / writer / f"000003_20261124_{'2' * 32}.jsonl").open("xb") as file:
        file.truncate(10 << 30)


def _junk(site: Path, chance: Random, writer: str) -> None:
    (site / writer).mkdir(exist_ok=True)
    for n in range(200):
        (site / writer / f"junk {n} (1).jsonl").touch()


def _junk_of_segments(site: Path, chance: Random, writer: str) -> None:
    for _ in range(80):
        _put(
            site, writer, b"x", seg=chance.randrange(1, 999_999), digest=chance.randbytes(16).hex()
        )


def _folder(site: Path, chance: Random, writer: str) -> None:
    (site / writer / f"000004_20261124_{'3' * 32}.jsonl").mkdir(parents=True)


def _want(site: Path, chance: Random, writer: str) -> None:
    (site / writer).mkdir(exist_ok=True)
    name = chance.choice((f"000005_20261124_{'4' * 32}.jsonl.want", "x.want", "..want"))
    (site / writer / name).write_bytes(msgspec.json.encode({"x": HOSTILE_TEXT}))


KINDS: tuple[Callable[[Path, Random, str], None], ...] = (
    _wrong_digest, _unknown_laptop, _other_laptop_inside, _other_site, _other_number, _newer_format,
    _broken_chain, _no_header, _torn, _not_json, _path_trick, _link, _loop, _pipe, _giant, _junk,
    _junk_of_segments, _folder, _want,
)  # fmt: skip
