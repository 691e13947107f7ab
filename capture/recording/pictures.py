"""Pictures beside a recording: checked, made anew without what a camera wrote, bounded, named by hash.

A picture lies in the folder `pictures` beside the recording under the first 16 digits of its SHA-256; the
recording holds the whole hash, and its chain binds it.
"""

from __future__ import annotations

import base64
import hashlib
import os
import secrets
import warnings
from collections.abc import Iterable
from io import BytesIO
from pathlib import Path
from typing import Final

from msgspec import Struct
from PIL import Image, ImageOps, UnidentifiedImageError

from capture.events import Event, Picture
from capture.host.disk import read_small, sync_folder

FOLDER: Final = "pictures"
FORMATS: Final = ("JPEG", "PNG", "WEBP")
LARGEST_GIVEN: Final = 32 << 20
"""Bytes that are looked at."""
LARGEST_KEPT: Final = 4 << 20
MOST_PIXELS: Final = 64_000_000
"""Of a picture that is opened: a small file may unfold into more than a memory holds."""
LONGEST_SIDE: Final = 1600
"""Pixels; larger ones are made smaller."""
MOST_PICTURES: Final = 500
"""In one folder."""


class BadPicture(Exception):
    """What came is no picture that can be kept: what came, what was due."""


class StoredPicture(Struct, frozen=True):
    """A picture as it lies beside a recording."""

    file: str
    sha256: str
    size: int


def store_picture(given: bytes, beside: Path) -> StoredPicture:
    """Keeps a picture in the folder `pictures` in *beside*, made anew as JPEG without metadata.

    Raises:
        BadPicture: It is none, of another kind, too large, or the folder is full.
        OSError: It cannot be written.
    """
    return keep_picture(cleaned(given), beside)


def keep_picture(made: bytes, beside: Path) -> StoredPicture:
    """Keeps a picture that was made anew already in the folder `pictures` in *beside*, under its hash.

    Raises:
        BadPicture: It is too large, or the folder is full.
        OSError: It cannot be written.
    """
    if len(made) > LARGEST_KEPT:
        raise BadPicture(f"{len(made)} bytes came, due at most {LARGEST_KEPT}")
    digest = hashlib.sha256(made).hexdigest()
    folder = beside / FOLDER
    folder.mkdir(exist_ok=True)
    path = folder / f"{digest[:16]}.jpg"
    # What a full disk or a power cut left under this name is no picture, and is written over.
    if picture_bytes(beside, path.name, digest) is None:
        if sum(1 for _ in folder.iterdir()) >= MOST_PICTURES:
            raise BadPicture(f"{folder.name}: {MOST_PICTURES} pictures are there, which is the most")
        _write_whole(path, made)
    return StoredPicture(path.name, digest, len(made))


def _write_whole(path: Path, body: bytes) -> None:
    """Has *body* on disk under its name, whole or not at all."""
    part = path.with_name(f".{path.stem}-{secrets.token_hex(4)}")
    try:
        with part.open("xb") as file:
            file.write(body)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
        sync_folder(path.parent)
    except OSError:
        part.unlink(missing_ok=True)
        raise


def cleaned(given: bytes) -> bytes:
    """The picture as JPEG, upright, no longer than `LONGEST_SIDE`, with nothing in it but its pixels.

    Raises:
        BadPicture: It is none, or too large.
    """
    if len(given) > LARGEST_GIVEN:
        raise BadPicture(f"{len(given)} bytes came, due at most {LARGEST_GIVEN}")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(BytesIO(given), formats=FORMATS) as opened:
                _bounded(opened)
                upright = ImageOps.exif_transpose(opened)
                upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
                plain = Image.new("RGB", upright.size, "white")
                shown = upright.convert("RGBA")
                plain.paste(shown, mask=shown)
                out = BytesIO()
                plain.save(out, "JPEG", quality=85)
    except BadPicture:
        raise
    except (
        UnidentifiedImageError,
        OSError,
        ValueError,
        SyntaxError,
        EOFError,
        Image.DecompressionBombError,
    ) as error:
        raise BadPicture(f"no picture that can be read ({error}); due {', '.join(FORMATS)}") from None
    made = out.getvalue()
    if len(made) > LARGEST_KEPT:
        raise BadPicture(f"{len(made)} bytes after making it smaller, due at most {LARGEST_KEPT}")
    return made


def _bounded(opened: Image.Image) -> None:
    if opened.width * opened.height > MOST_PIXELS:
        raise BadPicture(f"{opened.width} × {opened.height} pixels came, which is too many")


def picture_bytes(beside: Path, file: str, sha256: str) -> bytes | None:
    """The picture that a recording names, if it lies there and is the one that was recorded."""
    path = beside / FOLDER / Path(file).name
    try:
        if path.resolve().parent != (beside / FOLDER).resolve():
            return None
        body = read_small(path, LARGEST_KEPT)
    except OSError:
        return None
    return body if hashlib.sha256(body).hexdigest() == sha256 else None


def shown_pictures(beside: Path, events: Iterable[Event]) -> dict[str, str]:
    """The pictures that *events* name as data URIs, by file name; one that is not as recorded is left out."""
    found = {}
    for event in events:
        if isinstance(event.fact, Picture):
            body = picture_bytes(beside, event.fact.file, event.fact.sha256)
            if body is not None:
                found[event.fact.file] = "data:image/jpeg;base64," + base64.b64encode(body).decode()
    return found
