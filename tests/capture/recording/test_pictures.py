"""Pictures beside a recording: real ones made by the imaging library, and hostile bytes."""

from __future__ import annotations

import errno
import hashlib
import os
import zlib
from io import BytesIO
from struct import pack

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from capture.recording.pictures import (
    LONGEST_SIDE,
    BadPicture,
    cleaned,
    picture_bytes,
    store_picture,
)


def photo(size=(300, 200), kind="JPEG", mode="RGB", exif=None):
    out = BytesIO()
    more = {} if exif is None else {"exif": exif}
    Image.new(mode, size, "red").save(out, kind, **more)
    return out.getvalue()


def bomb(side):
    """A PNG of a few hundred bytes that says it has side × side pixels (PNG, ISO/IEC 15948)."""

    def chunk(kind, body):
        return pack(">I", len(body)) + kind + body + pack(">I", zlib.crc32(kind + body))

    head = pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")
    )


def test_a_picture_lies_beside_the_recording_under_its_hash(tmp_path):
    kept = store_picture(photo(), tmp_path)
    body = (tmp_path / "pictures" / kept.file).read_bytes()

    assert hashlib.sha256(body).hexdigest() == kept.sha256
    assert kept.file == f"{kept.sha256[:16]}.jpg"
    assert kept.size == len(body)
    assert store_picture(photo(), tmp_path) == kept


def test_a_stump_that_a_full_disk_left_is_no_picture_and_is_written_anew(tmp_path):
    whole = store_picture(photo(), tmp_path)
    path = tmp_path / "pictures" / whole.file
    path.write_bytes(path.read_bytes()[:100])

    assert store_picture(photo(), tmp_path) == whole
    assert picture_bytes(tmp_path, whole.file, whole.sha256) is not None


def test_a_disk_that_takes_no_more_leaves_no_stump(tmp_path, monkeypatch):
    def full(_file):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        store_picture(photo(), tmp_path)

    assert list((tmp_path / "pictures").iterdir()) == []


def test_what_the_camera_wrote_into_it_is_gone(tmp_path):
    """Place, time and maker stand in EXIF tags (CIPA DC-008); 0x8825 points to the place."""
    tags = Image.Exif()
    tags[0x010F] = "SECRET MAKER"
    tags[0x9003] = "2026:01:01 00:00:00"
    given = photo(exif=tags.tobytes())
    assert b"SECRET MAKER" in given

    made = cleaned(given)

    assert b"SECRET MAKER" not in made
    assert not dict(Image.open(BytesIO(made)).getexif())


def test_a_picture_taken_sideways_stands_upright_and_a_large_one_is_made_smaller():
    """Orientation 6 of EXIF is a quarter turn."""
    tags = Image.Exif()
    tags[0x0112] = 6

    assert Image.open(BytesIO(cleaned(photo((300, 200), exif=tags.tobytes())))).size == (200, 300)
    assert max(Image.open(BytesIO(cleaned(photo((4000, 3000))))).size) == LONGEST_SIDE


@pytest.mark.parametrize(
    ("kind", "mode"), [("PNG", "RGBA"), ("PNG", "P"), ("PNG", "L"), ("WEBP", "RGB"), ("JPEG", "CMYK")]
)
def test_every_kind_that_is_taken_becomes_a_jpeg(kind, mode):
    assert Image.open(BytesIO(cleaned(photo(kind=kind, mode=mode)))).format == "JPEG"


@pytest.mark.parametrize(
    "given",
    [
        b"",
        b"GIF89a" + bytes(20),
        photo(kind="GIF", mode="P"),
        photo(kind="TIFF"),
        b"<svg onload='x'/>",
        photo()[:80],
        bomb(30000),
    ],
)
def test_what_is_no_picture_of_these_kinds_is_refused_with_what_was_due(given):
    with pytest.raises(BadPicture, match=r"due|too many"):
        cleaned(given)


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=400), st.integers(0, 600))
def test_damaged_bytes_are_a_picture_or_refused_and_nothing_else(junk, at):
    good = photo()
    try:
        made = cleaned(good[:at] + junk + good[at + len(junk) :])
    except BadPicture:
        return
    assert Image.open(BytesIO(made)).format == "JPEG"


def test_a_picture_that_was_changed_or_taken_away_is_not_shown(tmp_path):
    kept = store_picture(photo(), tmp_path)
    assert picture_bytes(tmp_path, kept.file, kept.sha256) is not None

    (tmp_path / "pictures" / kept.file).write_bytes(photo((10, 10)))

    assert picture_bytes(tmp_path, kept.file, kept.sha256) is None
    assert picture_bytes(tmp_path, "../secret", kept.sha256) is None
    assert picture_bytes(tmp_path, "gone.jpg", kept.sha256) is None


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_a_pipe_that_bears_the_name_of_a_picture_is_left_out_and_not_waited_for(tmp_path):
    (tmp_path / "pictures").mkdir()
    os.mkfifo(tmp_path / "pictures" / "0123456789abcdef.jpg")

    assert picture_bytes(tmp_path, "0123456789abcdef.jpg", "0" * 64) is None
