"""Backup and restore: one file that proves itself, nothing overwritten, nothing hostile let in."""

from __future__ import annotations

import errno
import shutil
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest
from record_making import SITE, open_segment, reading, sealed_segments, tree, values

from rounds.records import backup as room
from rounds.records.backup import BackupFailed, backup, restore
from rounds.records.sync import sync
from rounds.records.verifying import verify

NOW = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)


@pytest.fixture
def farm(laptop):
    """A laptop with site files, a report and three entries."""
    (laptop.folder / "site.toml").write_text("[site]\n")
    (laptop.folder / "checklists").mkdir()
    (laptop.folder / "checklists" / "own.toml").write_text("title = 'own'\n")
    (laptop.folder / "reports").mkdir()
    (laptop.folder / "reports" / "handoff-2026-11-24-1.md").write_text("# Passagem de turno é\n")
    (laptop.folder / "cache").mkdir()
    (laptop.folder / "cache" / "x").write_text("made again")
    for value in "123":
        laptop.write(value)
    return laptop.here()


def _made(farm, tmp_path) -> Path:
    backup(farm.folder, SITE, tmp_path / "farm.zip", NOW)
    return tmp_path / "farm.zip"


def _kept(folder: Path) -> dict[str, bytes]:
    out = ("cache", "records/folder.lock", "records/open")
    return {name: data for name, data in tree(folder).items() if not name.startswith(out)}


def test_what_comes_back_is_what_was_there(farm, tmp_path):
    made = backup(farm.folder, SITE, tmp_path / "farm.zip", NOW)
    assert (made.files, made.damaged, made.left_out, made.waiting) == (6, (), (), 0)
    assert made.size == (tmp_path / "farm.zip").stat().st_size
    back = restore(tmp_path / "farm.zip", tmp_path / "back")
    assert (back.files, back.report.entries, back.report.findings) == (6, 3, ())
    assert back.report.heads == made.heads == verify(farm.folder, SITE).heads
    assert _kept(tmp_path / "back") == _kept(farm.folder)
    assert not list(tmp_path.glob(".part-*"))


def _format(archive: Path) -> object:
    with zipfile.ZipFile(archive) as opened:
        return msgspec.json.decode(opened.read("backup.json"))["format"]


def test_loose_files_beside_the_site_come_back_and_others_do_not(farm, tmp_path):
    backup(farm.folder, SITE, tmp_path / "old.zip", NOW)
    for name in ("README.md", "story.toml", ".hidden", "backup.json", "readme.MD", "nul.txt"):
        (farm.folder / name).write_text(name)
    (farm.folder / "link.md").symlink_to(farm.folder / "README.md")
    made = backup(farm.folder, SITE, tmp_path / "farm.zip", NOW)
    assert sorted(one.partition(" ")[0].rstrip(":") for one in made.left_out) == [
        "backup.json", "link.md", "nul.txt", "readme.MD"
    ]  # fmt: skip
    restore(tmp_path / "farm.zip", tmp_path / "back")
    came = {path.name for path in (tmp_path / "back").iterdir() if path.is_file()}
    assert came == {"README.md", "story.toml", "site.toml"}
    assert (_format(tmp_path / "old.zip"), _format(tmp_path / "farm.zip")) == (1, 2)


def test_a_folder_that_cannot_be_written_is_named_in_our_words(farm, tmp_path, monkeypatch):
    archive = _made(farm, tmp_path)

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(room, "make_folder", full)
    with pytest.raises(BackupFailed, match=r"back.* is full"):
        restore(archive, tmp_path / "back")
    assert not list(tmp_path.glob(".part-*"))


def test_any_computer_opens_it_and_nothing_in_it_is_a_secret_format(farm, tmp_path):
    with zipfile.ZipFile(_made(farm, tmp_path)) as archive:
        assert archive.testzip() is None
        assert archive.read("site.toml") == b"[site]\n"
        assert "cache/x" not in archive.namelist()


@pytest.mark.parametrize("there", ["file", "link"])
def test_nothing_is_overwritten(farm, tmp_path, there):
    target = tmp_path / "farm.zip"
    target.symlink_to("nowhere") if there == "link" else target.write_text("mine")
    with pytest.raises(BackupFailed, match="nothing is overwritten"):
        backup(farm.folder, SITE, target, NOW)
    archive = tmp_path / "b.zip"
    backup(farm.folder, SITE, archive, NOW)
    (tmp_path / "back").mkdir()
    (tmp_path / "back" / "mine").touch()
    with pytest.raises(BackupFailed, match="not empty"):
        restore(archive, tmp_path / "back")
    assert [p.name for p in (tmp_path / "back").iterdir()] == ["mine"]


def test_an_empty_folder_may_be_filled(farm, tmp_path):
    archive = _made(farm, tmp_path)
    (tmp_path / "back").mkdir()
    assert restore(archive, tmp_path / "back").report.entries == 3


def test_a_stick_without_second_names_will_do(farm, tmp_path, monkeypatch):
    def no_links(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("rounds.records.durable.os.link", no_links)
    assert restore(_made(farm, tmp_path), tmp_path / "back").report.entries == 3


def test_not_into_the_sites_own_folder(farm):
    with pytest.raises(BackupFailed, match="own folder"):
        backup(farm.folder, SITE, farm.folder / "farm.zip", NOW)


def test_entries_of_an_open_program_are_said_to_be_missing(farm, tmp_path):
    with farm.book() as book:
        book.append(reading("4"))
        made = backup(farm.folder, SITE, tmp_path / "farm.zip", NOW)
        assert made.waiting == 1
        assert open_segment(farm)
    assert restore(tmp_path / "farm.zip", tmp_path / "back").report.entries == 3


def test_a_damaged_segment_is_kept_as_it_is_and_named_both_times(farm, tmp_path):
    path = sealed_segments(farm)[1]
    path.chmod(0o600)
    path.write_bytes(path.read_bytes().replace(b'"value":"2"', b'"value":"9"'))
    made = backup(farm.folder, SITE, tmp_path / "farm.zip", NOW)
    assert [name.endswith(path.name) for name in made.damaged] == [True]
    report = restore(tmp_path / "farm.zip", tmp_path / "back").report
    assert any(path.name in finding.file for finding in report.findings)


def test_links_and_names_no_other_system_takes_are_left_out_and_named(farm, tmp_path):
    (farm.folder / "feeds").mkdir()
    (farm.folder / "feeds" / "passwd.csv").symlink_to("/etc/passwd")
    (farm.folder / "reports" / "a:b.md").touch()
    made = backup(farm.folder, SITE, tmp_path / "farm.zip", NOW)
    assert [one.split()[0] for one in made.left_out] == ["feeds/passwd.csv", "reports/a:b.md:"]
    assert made.files == 6


def test_a_stick_that_does_not_hold_what_was_written_is_told_and_left_empty(
    farm, tmp_path, monkeypatch
):
    def spoil(path: Path) -> None:
        data = bytearray(path.read_bytes())
        data[len(data) // 3] ^= 1
        path.write_bytes(data)

    monkeypatch.setattr(room, "drop_cached", spoil)
    with pytest.raises(BackupFailed):
        backup(farm.folder, SITE, tmp_path / "farm.zip", NOW)
    assert [p.name for p in tmp_path.iterdir()] == [farm.folder.parent.name]


def test_a_full_stick_leaves_nothing(farm, tmp_path, monkeypatch):
    def full(fd: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(room, "sync_file", full)
    with pytest.raises(BackupFailed, match="is full: free some space, then back up again"):
        backup(farm.folder, SITE, tmp_path / "farm.zip", NOW)
    assert [p.name for p in tmp_path.iterdir()] == [farm.folder.parent.name]


def test_a_site_that_takes_no_writing_is_backed_up_all_the_same(farm, tmp_path, monkeypatch):
    def refused(*_: object) -> None:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(room, "make_folder", refused)
    assert backup(farm.folder, SITE, tmp_path / "farm.zip", NOW).files == 6


def test_a_restored_laptop_writes_under_a_new_name_and_gets_its_later_entries_by_sync(
    farm, tmp_path, stick
):
    archive = _made(farm, tmp_path)
    before = farm.book().writer
    farm.write("4")
    sync(farm.folder, SITE, stick)
    shutil.rmtree(farm.folder)
    restore(archive, farm.folder)
    farm.write("5")
    assert farm.book().writer != before
    sync(farm.folder, SITE, stick)
    assert sorted(values(farm.read())) == ["1", "2", "3", "4", "5"]
    assert verify(farm.folder, SITE).findings == ()


def test_a_laptop_put_back_to_an_old_copy_is_told_so_by_its_next_sync(farm, tmp_path, stick):
    shutil.copytree(farm.folder, tmp_path / "old")
    farm.write("4")
    assert not sync(farm.folder, SITE, stick).renamed
    shutil.rmtree(farm.folder)
    (tmp_path / "old").rename(farm.folder)
    assert sync(farm.folder, SITE, stick).renamed
    assert not sync(farm.folder, SITE, stick).renamed
    assert farm.book().writer is None


def test_every_damage_of_an_archive_is_refused_and_leaves_nothing(farm, tmp_path):
    archive = _made(farm, tmp_path)
    whole = archive.read_bytes()
    cut = [whole[:at] for at in range(0, len(whole), 331)]
    flipped = [
        whole[:at] + bytes([whole[at] ^ 16]) + whole[at + 1 :] for at in range(0, len(whole), 97)
    ]
    refused = 0
    for number, data in enumerate([*cut, *flipped]):
        archive.write_bytes(data)
        try:
            back = restore(archive, tmp_path / f"back{number}")
        except BackupFailed:
            refused += 1
            assert not (tmp_path / f"back{number}").exists()
        else:  # a time or a mark of the zip itself
            assert back.report.findings == ()
            assert _kept(back.folder) == _kept(farm.folder)
    assert refused > len(cut) + len(flipped) // 2
    assert not list(tmp_path.glob(".part-*"))


def _forged(archive: Path, held: dict[str, bytes], **changed: object) -> None:
    from hashlib import sha256

    manifest: dict[str, object] = {
        "format": 1, "site": SITE, "made": "2026-11-25T08:00:00.000Z", "app": "1", "heads": {},
        "files": {name: sha256(data).hexdigest() for name, data in held.items()},
    }  # fmt: skip
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as out:
        for name, data in held.items():
            out.writestr(name, data)
        out.writestr("backup.json", msgspec.json.encode(manifest | changed))


@pytest.mark.parametrize(
    "name",
    [
        "../site.toml", "/etc/cron.d/x", "checklists/../../x", "C:/x", "checklists\\..\\x",
        "records/open/k7q2md-000001-r4t9zb.jsonl", "cache/x", "feeds/nul.csv", "feeds/a.",
        "feeds//x", "feeds/.hidden", "reports/a\x1b[2J.md", "reports/" + "a" * 300, "feeds/",
    ],
)  # fmt: skip
def test_no_name_leads_out_of_the_folder(tmp_path, name):
    _forged(tmp_path / "x.zip", {"site.toml": b"", name: b"x"})
    with pytest.raises(BackupFailed):
        restore(tmp_path / "x.zip", tmp_path / "back")
    assert [p.name for p in tmp_path.iterdir()] == ["x.zip"]


@pytest.mark.parametrize(
    "changed",
    [
        {"site": "../../x"}, {"files": {"site.toml": "0" * 64}}, {"files": {}}, {"format": 3},
        {"heads": {"k7q2md": "1:" + "0" * 32}}, {"format": "1"}, {"files": [1]},
    ],
)  # fmt: skip
def test_no_manifest_is_believed(tmp_path, changed):
    _forged(tmp_path / "x.zip", {"site.toml": b"[site]"}, **changed)
    with pytest.raises(BackupFailed):
        restore(tmp_path / "x.zip", tmp_path / "back")
    assert [p.name for p in tmp_path.iterdir()] == ["x.zip"]


def test_names_that_differ_in_capitals_and_giants_are_refused(tmp_path, monkeypatch):
    _forged(tmp_path / "x.zip", {"feeds/a.csv": b"1", "feeds/A.csv": b"2"})
    with pytest.raises(BackupFailed, match="twice"):
        restore(tmp_path / "x.zip", tmp_path / "back")
    monkeypatch.setattr(room, "_MAX_FILE", 1000)
    _forged(tmp_path / "x.zip", {"site.toml": b"0" * 5000})
    with pytest.raises(BackupFailed, match="giant"):
        restore(tmp_path / "x.zip", tmp_path / "back")


def test_a_folder_that_cannot_be_listed_makes_no_backup(farm, tmp_path, monkeypatch):
    (writer,) = (farm.records / "sealed").iterdir()
    real = room.os.walk

    def walk(top, onerror=None):
        for at, folders, files in real(top, onerror=onerror):
            if Path(at) == writer:
                if onerror is not None:
                    onerror(OSError(5, "Input/output error", at))
                continue
            yield at, folders, files

    monkeypatch.setattr(room.os, "walk", walk)
    with pytest.raises(BackupFailed, match=f"^{writer} cannot be read"):
        backup(farm.folder, SITE, tmp_path / "farm.zip", NOW)
    assert not (tmp_path / "farm.zip").exists()


def test_the_file_that_cannot_be_read_is_named_and_not_the_stick(farm, tmp_path, monkeypatch):
    bad = sealed_segments(farm)[1]
    real = room.read_plain

    def read(path, cap):
        if path == bad:
            raise OSError(5, "Input/output error")
        return real(path, cap)

    monkeypatch.setattr(room, "read_plain", read)
    with pytest.raises(BackupFailed, match=f"^{bad} cannot be read .Input/output") as told:
        backup(farm.folder, SITE, tmp_path / "farm.zip", NOW)
    assert "farm.zip" not in str(told.value)
    assert not (tmp_path / "farm.zip").exists()


def test_a_linked_folder_is_left_out_and_named_and_the_rest_comes_back(farm, tmp_path):
    (farm.records / "sealed").rename(tmp_path / "disk")
    (farm.records / "sealed").symlink_to(tmp_path / "disk")
    made = backup(farm.folder, SITE, tmp_path / "farm.zip", NOW)
    assert made.left_out == ("records/sealed is a link",)
    assert restore(tmp_path / "farm.zip", tmp_path / "back").files == made.files


def _packed(path: Path, compression: int, size: int = 1000) -> Path:
    with zipfile.ZipFile(path, "w", compression) as archive:
        archive.writestr("backup.json", b" " * size)
    return path


@pytest.mark.parametrize("compression", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_no_archive_that_rounds_does_not_make_is_unpacked(tmp_path, compression):
    archive = _packed(tmp_path / "x.zip", compression)
    data = bytearray(archive.read_bytes())
    data[60] ^= 0xFF
    archive.write_bytes(data)
    with pytest.raises(BackupFailed):
        restore(archive, tmp_path / "back")


def test_a_list_that_swells_is_no_list(tmp_path, monkeypatch):
    monkeypatch.setattr(room, "_MAX_MANIFEST", 10_000)
    with pytest.raises(BackupFailed, match="giant"):
        restore(_packed(tmp_path / "x.zip", zipfile.ZIP_DEFLATED, 20_000), tmp_path / "back")


def test_the_name_of_a_laptop_goes_before_its_restored_folder_comes(farm, tmp_path, monkeypatch):
    archive = _made(farm, tmp_path)
    shutil.rmtree(farm.folder)

    def cut(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(room.Path, "rename", cut)
    with pytest.raises(KeyboardInterrupt):
        restore(archive, farm.folder)
    assert farm.book().writer is None
