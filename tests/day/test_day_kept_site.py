"""A site is taken from the cache only while nothing that it was read from has changed."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from rounds.day.fold import kept_site
from rounds.site.loading import load
from rounds.site.shipped import shipped


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    folder = tmp_path / "farm"
    shutil.copytree(shipped("sample_site"), folder)
    return folder


def test_a_kept_site_is_the_site_that_was_read(farm: Path) -> None:
    assert kept_site.find(farm) is None
    site = load(farm)
    kept_site.keep(site)
    assert kept_site.find(farm) == site
    assert repr(kept_site.find(farm)) == repr(site)


@pytest.mark.parametrize("name", ["site.toml", "checklists/own.toml", "species/own.toml"])
def test_a_file_that_came_or_changed_makes_it_be_read_again(farm: Path, name: str) -> None:
    kept_site.keep(load(farm))
    path = farm / name
    path.parent.mkdir(exist_ok=True)
    path.write_text((path.read_text("utf-8") if path.exists() else "") + "\n# more\n", "utf-8")
    assert kept_site.find(farm) is None


def test_another_version_of_the_program_reads_it_again(
    farm: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept_site.keep(load(farm))
    monkeypatch.setattr(kept_site, "__version__", "999")
    assert kept_site.find(farm) is None


def test_a_folder_that_was_moved_reads_it_again(farm: Path) -> None:
    kept_site.keep(load(farm))
    moved = farm.rename(farm.with_name("moved"))
    assert kept_site.find(moved) is None


def test_what_is_damaged_foreign_or_cannot_be_written_is_passed_over(farm: Path) -> None:
    site = load(farm)
    kept_site.keep(site)
    path = farm / "cache" / "site.mp"
    path.write_bytes(path.read_bytes()[:-1])
    assert kept_site.find(farm) is None
    shutil.rmtree(farm / "cache")
    (farm / "cache").write_text("in the way", "utf-8")
    kept_site.keep(site)
    assert kept_site.find(farm) is None
