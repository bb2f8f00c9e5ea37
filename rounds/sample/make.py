"""Makes a sample farm: the shipped site's files, a fresh id, and an invented history."""

from __future__ import annotations

import re
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from random import Random
from typing import Final

from rounds.records.durable import sync_folder
from rounds.sample import story
from rounds.sample.days import Days
from rounds.sample.diary import Laptop, word
from rounds.sample.world import World
from rounds.site.files import FILE
from rounds.site.loading import load
from rounds.site.shipped import shipped

DAYS: Final = 21
FEWEST: Final = 2
MOST: Final = 60
_ID: Final = re.compile(r'^id\s*=\s*"[a-z0-9]{8}"', re.MULTILINE)


def make(
    folder: Path, *, ending: date, days: int = DAYS, seed: int = 1, site: Path | None = None
) -> Path:
    """Make a sample farm in a new folder. The same arguments make the same farm.

    Args:
        folder: Where; it must not be there yet, or be empty.
        ending: The last, whole day of the history, by the site's clock.
        days: How many days, 2 to 60.
        seed: Another number makes another history.
        site: Folder of another site, with its story.toml; the shipped one when left out.

    Returns:
        The folder. It appears whole or not at all.

    Raises:
        ValueError: Days outside the range.
        FileExistsError: Something is in the folder already.
        OSError: The disk refused.
        SiteErrors: Something is wrong in the site or its story.
    """
    if not FEWEST <= days <= MOST:
        raise ValueError(f"days {days} is outside {FEWEST} to {MOST}")
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise FileExistsError(17, "is there already: give another folder", str(folder))
    folder.parent.mkdir(parents=True, exist_ok=True)
    chance = Random(f"{seed} {days} {ending.isoformat()}")  # noqa: S311 - an invented history
    with _beside(folder) as part:
        shutil.copytree(site or shipped("sample_site"), part, dirs_exist_ok=True)
        file = part / FILE
        fresh = f'id = "{word(chance, 8)}"'
        file.write_text(_ID.sub(fresh, file.read_text("utf-8"), count=1), "utf-8")
        _live(part, ending, days, chance)
        if folder.exists():
            folder.rmdir()
        part.rename(folder)
        sync_folder(folder.parent)
    return folder


def _live(folder: Path, ending: date, days: int, chance: Random) -> None:
    site = load(folder)
    told = story.read(site, chance)
    first = ending - timedelta(days=days - 1)
    begins = datetime.combine(first, time(4), site.timezone).astimezone(UTC)
    world = World(site, told, begins, ending, chance)
    laptops = (Laptop(site, chance), Laptop(site, chance))
    lived = Days(told, laptops, world, chance, first, ending)
    for number in range(days):
        lived.run(first + timedelta(days=number))
    for laptop in laptops:
        laptop.seal()
        laptop.store(folder / "records")


@contextmanager
def _beside(folder: Path) -> Iterator[Path]:
    """Give a folder with another name beside the wanted one; it is gone afterwards."""
    part = folder.with_name(f".{folder.name}-{secrets.token_hex(4)}")
    part.mkdir()
    try:
        yield part
    finally:
        shutil.rmtree(part, ignore_errors=True)
