"""A laptop's identity: what is damaged is made anew, and no worse comes of it."""

from __future__ import annotations

import os

import pytest

from rounds.records.identity import make_writer_id, state_folder, writer_id

SITE = "m4k8q2vz"


@pytest.fixture
def kept(tmp_path, monkeypatch):
    monkeypatch.setenv("ROUNDS_STATE", str(tmp_path / "state"))
    make_writer_id(tmp_path, SITE)
    return state_folder(tmp_path, SITE) / "identity.json"


@pytest.mark.parametrize(
    "junk",
    [
        b"", b"[]", b"{", b"\xff", b'{"writer":"\xff","machine":"x"}', b'{"writer":"\\ud800"}',
        b'{"more":' + b"[" * 4000, b"x" * 5000, b'{"writer":"../../","machine":"x"}',
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_no_identity(kept, tmp_path, junk):
    kept.write_bytes(junk)
    assert writer_id(tmp_path, SITE) is None


@pytest.mark.skipif(os.name == "nt", reason="links")
def test_a_link_or_a_folder_is_no_identity(kept, tmp_path):
    other = kept.rename(kept.with_name("other"))
    kept.symlink_to(other)
    assert writer_id(tmp_path, SITE) is None
    kept.unlink()
    kept.mkdir()
    assert writer_id(tmp_path, SITE) is None


def test_a_fault_of_the_program_is_not_hidden(kept, tmp_path, monkeypatch):
    def faulty(*_):
        raise TypeError("a fault")

    monkeypatch.setattr("rounds.records.identity.read_plain", faulty)
    with pytest.raises(TypeError):
        writer_id(tmp_path, SITE)
