"""A site's files travel as one text: the same files, the same digest; nothing hostile unpacks."""

from __future__ import annotations

import json

import pytest
from sites import GOOD, write

from rounds.site.loading import digest
from rounds.site.versions import MAX_VERSION, Version, VersionError, changes, pack, unpack


@pytest.fixture
def folder(tmp_path):
    folder = write(tmp_path, GOOD)
    (folder / "checklists").mkdir()
    (folder / "checklists" / "extra.toml").write_text('title = "Maré"\r\n', "utf-8", newline="")
    (folder / "feeds").mkdir()
    (folder / "feeds" / "grower.csv").write_text("a,b\n", "utf-8")
    return folder


def test_what_is_packed_unpacks_to_the_same_files_and_digest(folder):
    version = pack(folder)
    assert version.digest == digest(folder)
    again = unpack(version.data, version.name)
    assert again == version
    assert again.files["checklists/extra.toml"] == 'title = "Maré"\r\n'
    assert set(again.files) == {"site.toml", "checklists/extra.toml", "feeds/grower.csv"}


def test_an_editors_leavings_do_not_travel_and_change_no_digest(folder):
    before = pack(folder)
    (folder / "checklists" / ".DS_Store").write_bytes(b"\0\xff")
    (folder / "feeds" / "grower.csv~").write_text("x")
    assert pack(folder) == before
    assert digest(folder) == before.digest


@pytest.mark.parametrize("name", ["checklists/maré.toml", "feeds/deep/x.csv", "species/con.toml"])
def test_a_file_that_cannot_travel_is_named(folder, name):
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("x = 1\n")
    with pytest.raises(VersionError, match=r"cannot travel"):
        pack(folder)


def _packed(files: object, form: object = 1) -> bytes:
    return json.dumps({"files": files, "format": form}).encode()


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xff",
        b"null",
        b"[" * 100_000,
        b'{"files":{"site.toml":"a","site.toml":"b"},"format":1}',
        _packed({}),
        _packed({"site.toml": 3}),
        _packed({"site.toml": ""}, 2),
        _packed({"site.toml": "", "../x.toml": ""}),
        _packed({"site.toml": "", "checklists/../../x.toml": ""}),
        _packed({"site.toml": "", "/etc/x.toml": ""}),
        _packed({"site.toml": "", "checklists\\x.toml": ""}),
        _packed({"site.toml": "", "records/x.toml": ""}),
        _packed({"site.toml": "", "checklists/x.toml\n": ""}),
        _packed({"site.toml": "", "checklists/NUL.toml": ""}),
        _packed({"site.toml": "", "checklists/a.toml": "", "checklists/A.toml": ""}),
        _packed({"site.toml": "\ud800"}),
        _packed({"site.toml": "a" + ".a" * 500 + " = 1"}),
        _packed({"site.toml": '"\u2028"' + ".a" * 499 + " = 1"}),
        _packed({"site.toml": ""} | {f"feeds/{n}.csv": "" for n in range(300)}),
        b" " * (MAX_VERSION + 1),
    ],
)
def test_nothing_hostile_unpacks(data):
    with pytest.raises(VersionError):
        unpack(data)


def test_a_version_under_another_name_is_none(folder):
    version = pack(folder)
    with pytest.raises(VersionError, match="name"):
        unpack(version.data, "0" * 16 + version.name[16:])


def test_a_version_of_many_like_lines_is_told_without_comparing_each_with_each():
    few, many = (
        Version("a", {"site.toml": "\n" * 5_000}),
        Version("b", {"site.toml": "\n" * 90_000}),
    )
    assert changes(few, many) == ("site.toml: 85000 lines differ",)


def test_lines_that_only_moved_are_told():
    assert changes(Version("a", {"site.toml": "a\nb"}), Version("b", {"site.toml": "b\na"})) == (
        "site.toml: 1 line differs",
    )


def test_what_changes_is_told_by_file():
    old = Version("a", {"site.toml": "a\nb\nc\n", "feeds/x.csv": "", "species/y.toml": "1"})
    new = Version(
        "b", {"site.toml": "a\nB\nc\nd\n", "checklists/z.toml": "", "species/y.toml": "1"}
    )
    assert changes(old, new) == (
        "checklists/z.toml: new",
        "feeds/x.csv: goes",
        "site.toml: 2 lines differ",
    )
