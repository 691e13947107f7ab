"""Pictures from the page: kept beside the recording, bound by its chain, without what the camera wrote."""

from __future__ import annotations

import base64
import hashlib
from io import BytesIO

import msgspec
import pytest
from fastapi import FastAPI
from PIL import Image

from capture.events import Picture
from dashboard.setup.picture_api import MOST, PictureApi
from dashboard.sources.feed import Feed
from dashboard.sources.scene_store import SceneStore
from dashboard.views.registry import draw
from dashboard.web.api import LiveApi

MAKER, TAKEN = 0x010F, 0x9003
"""Tags of EXIF (CIPA DC-008): who made the camera, and when the picture was taken."""


def photo(size=(300, 200)):
    tags = Image.Exif()
    tags[MAKER], tags[TAKEN] = "SECRET MAKER", "2026:01:01 00:00:00"
    out = BytesIO()
    Image.new("RGB", size, "red").save(out, "JPEG", exif=tags.tobytes())
    return out.getvalue()


def followed(recording, ground):
    """The screen's view of the recording as it stands."""
    feed = Feed(recording, SceneStore(draw), {}, wall=lambda: ground.events[-1].at.wall)
    for _ in range(3):
        while feed.turn():
            pass
    return feed


@pytest.fixture
def send(asked):
    def one(source, given, *, text="keyway", token=True, body=None):
        server, routes = FastAPI(), LiveApi(source)
        PictureApi(source, routes).lay(server)
        what = {"data": base64.b64encode(given).decode(), "text": text}
        headers = [("x-tenths-token", routes.token)] if token else []
        content = msgspec.json.encode(what) if body is None else body
        return asked(server, "/picture/keep", method="POST", headers=headers, body=content)

    return one


def test_a_picture_joins_the_recording_by_its_hash(recording, ground, send, capture_of):
    with capture_of(recording, ground):
        answer = send(followed(recording, ground), photo(), text="keyway after grinding")

    fact = ground.events[answer.json()["seq"]].fact
    body = (recording.parent / "pictures" / fact.file).read_bytes()
    assert isinstance(fact, Picture)
    assert (fact.sha256, fact.size) == (hashlib.sha256(body).hexdigest(), len(body))
    assert fact.text == "keyway after grinding"
    assert [event.fact for event in ground.state.steps.pictures] == [fact]


def test_what_the_camera_wrote_does_not_reach_the_disk(recording, ground, send, capture_of):
    given = photo()
    assert b"SECRET MAKER" in given
    with capture_of(recording, ground):
        send(followed(recording, ground), given)

    (kept,) = (recording.parent / "pictures").iterdir()
    assert b"SECRET MAKER" not in kept.read_bytes()
    assert not dict(Image.open(BytesIO(kept.read_bytes())).getexif())


def test_a_picture_is_shown_again_only_while_it_is_the_one_recorded(
    recording, ground, send, capture_of, asked
):
    with capture_of(recording, ground):
        send(followed(recording, ground), photo())
    recording.write_bytes(ground.text())
    again = followed(recording, ground)
    server = FastAPI()
    PictureApi(again, LiveApi(again)).lay(server)
    (kept,) = (recording.parent / "pictures").iterdir()

    assert asked(server, f"/picture?file={kept.name}").body == kept.read_bytes()
    assert asked(server, "/picture?file=../sleeve.toml").status == 404
    kept.write_bytes(photo((10, 10)))
    assert asked(server, f"/picture?file={kept.name}").status == 404


@pytest.mark.parametrize("given", [b"", b"no picture", b"GIF89a" + bytes(30)])
def test_what_is_no_picture_is_refused_and_nothing_is_kept(recording, ground, send, capture_of, given):
    before = len(ground.events)
    with capture_of(recording, ground):
        answer = send(followed(recording, ground), given)

    assert answer.status == 415
    assert "due" in answer.json()["refused"]
    assert len(ground.events) == before
    assert not list(recording.parent.glob("pictures/*"))


def test_one_that_is_too_large_or_has_no_token_is_refused_before_it_is_looked_at(
    recording, ground, send, capture_of
):
    before = len(ground.events)
    with capture_of(recording, ground):
        large = send(followed(recording, ground), b"", body=b"x" * (MOST + 1))
        foreign = send(followed(recording, ground), photo(), token=False)

    assert (large.status, foreign.status) == (413, 403)
    assert len(ground.events) == before
    assert not (recording.parent / "pictures").exists()


def test_without_a_capture_nothing_is_kept_that_nothing_names(recording, ground, send):
    answer = send(followed(recording, ground), photo())

    assert answer.status == 409
    assert not list(recording.parent.glob("pictures/*"))
