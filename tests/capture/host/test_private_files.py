from __future__ import annotations

import os

import pytest

from capture.host.private_files import others_may_read, read_private, runtime_folder, write_private

pytestmark = pytest.mark.skipif(os.name == "nt", reason="owners and modes are POSIX")


def test_what_is_written_is_whole_and_the_users_alone_whatever_the_umask(tmp_path):
    before = os.umask(0)
    try:
        write_private(tmp_path / "own", b"secret")
    finally:
        os.umask(before)

    assert read_private(tmp_path / "own") == b"secret"
    assert not others_may_read(tmp_path / "own")
    assert [path.name for path in tmp_path.iterdir()] == ["own"]


def test_a_link_in_the_place_of_the_file_is_replaced_and_not_followed(tmp_path):
    victim = tmp_path / "victim"
    victim.write_bytes(b"mine")
    (tmp_path / "own").symlink_to(victim)

    write_private(tmp_path / "own", b"secret")

    assert victim.read_bytes() == b"mine"
    assert not (tmp_path / "own").is_symlink()


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root gives a file away")
def test_a_file_of_another_user_is_refused(tmp_path):
    path = tmp_path / "theirs"
    path.write_bytes(b"{}")
    os.chown(path, 65534, 65534)

    with pytest.raises(OSError, match="another user"):
        read_private(path)


def test_the_owner_is_whom_the_file_says_and_not_who_asks(tmp_path, monkeypatch):
    """The same without root: this process takes itself for another user."""
    path = tmp_path / "own"
    path.write_bytes(b"{}")
    monkeypatch.setattr(os, "geteuid", lambda: path.stat().st_uid + 1)

    with pytest.raises(OSError, match="another user"):
        read_private(path)


def test_what_is_no_file_is_refused(tmp_path):
    with pytest.raises(OSError, match=r"not a regular file|Is a directory"):
        read_private(tmp_path)


def test_programs_that_run_are_found_in_the_runtime_folder_where_the_system_has_one(tmp_path, monkeypatch):
    """XDG Base Directory Specification 0.8."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    own = runtime_folder()
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / "nowhere"))
    monkeypatch.setenv("HOME", str(tmp_path))

    assert own == tmp_path / "tenths"
    assert runtime_folder() == tmp_path / ".cache" / "tenths"


def test_a_disk_that_takes_the_name_and_not_the_content_is_left_without_an_empty_file(tmp_path, monkeypatch):
    (tmp_path / "own").write_bytes(b"before")
    monkeypatch.setattr(os, "write", lambda _file, _text: 0)

    with pytest.raises(OSError, match="No space"):
        write_private(tmp_path / "own", b"secret")

    assert [path.name for path in tmp_path.iterdir()] == ["own"]
    assert (tmp_path / "own").read_bytes() == b"before"
