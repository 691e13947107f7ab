"""Pictures go with their recording through a real broker into a real database, and come out byte for byte."""

from __future__ import annotations

import hashlib
import shutil
from io import BytesIO
from pathlib import Path

import psycopg
import pytest
from PIL import Image

from capture.events import Event, Instant, Picture
from capture.recording.codec import encode_event, join_chain, next_chain
from capture.recording.lines import LineFollower
from capture.recording.pictures import LARGEST_KEPT, store_picture
from capture.shop.archive.database import Database
from capture.shop.archive.schema import migrate
from capture.shop.live import LiveShop
from capture.shop.messages.broker import broker_of
from capture.shop.messages.topics import recording_name, topic_of
from capture.shop.publish.publisher import Publisher
from capture.shop.tables.ask import asked

RECORDING = Path(__file__).parents[3] / "recordings" / "good.jsonl"
COLOURS = ("red", "green", "blue")


def photo(colour: str) -> bytes:
    out = BytesIO()
    Image.new("RGB", (600, 400), colour).save(out, "PNG")
    return out.getvalue()


@pytest.fixture
def pictured(tmp_path):
    """A recording at whose end three pictures are named, with their files beside it."""
    path = tmp_path / "machine" / "sleeve.jsonl"
    path.parent.mkdir()
    shutil.copy(RECORDING, path)
    follower = LineFollower(path)
    lines = list(iter(lambda: follower.poll() or None, None))
    last = lines[-1][-1]
    follower.close()
    chain, mono = last.chain, 10**15
    with path.open("ab") as file:
        for number, colour in enumerate(COLOURS):
            kept = store_picture(photo(colour), path.parent)
            fact = Picture(kept.file, kept.sha256, kept.size, f"the {colour} one")
            at = Instant(mono, last.wall + number)
            body = encode_event(Event(last.seq + 1 + number, at, "hand", fact))
            chain = next_chain(chain, body)
            file.write(join_chain(body, chain))
    return path


def files(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted((folder / "pictures").glob("*"))}


def kept(shop) -> int:
    try:
        return shop.query("SELECT count(*) FROM store.picture_files")[0][0]
    except psycopg.Error:
        return 0


def test_pictures_come_out_beside_their_recording_byte_for_byte(shop, pictured):
    archive = shop.archive()
    shop.run("publish", str(pictured), "--broker", shop.broker, "--machine", "g1", "--once", "--stored")

    out = shop.folder / "out" / "sleeve.jsonl"
    out.parent.mkdir()
    words = ("archive", "--database", shop.database, "--take-out", "sleeve", "-o", str(out))

    assert "3 of 3 pictures" in shop.run(*words)
    assert out.read_bytes() == pictured.read_bytes()
    assert files(out.parent) == files(pictured.parent)
    assert len(files(out.parent)) == 3
    shop.stop(archive)


def test_a_picture_that_is_not_there_yet_is_said_and_asked_for_until_it_comes(shop, pictured, wait_until):
    there = files(pictured.parent)
    away = pictured.parent / "pictures" / next(iter(there))
    away.unlink()
    archive = shop.archive()
    publisher = shop.publish(pictured)
    wait_until(lambda: kept(shop) == 2, "the two pictures that are there")

    out = shop.folder / "out.jsonl"
    words = ("archive", "--database", shop.database, "--take-out", "sleeve", "-o", str(out))
    assert "not stored yet" in shop.run(*words, status=1)
    assert out.read_bytes() == pictured.read_bytes()

    away.write_bytes(there[away.name])
    wait_until(lambda: kept(shop) == 3, "the third, once it is there")
    assert away.name in shop.stop(publisher)
    shop.run(*words)
    assert files(shop.folder) == there
    shop.stop(archive)


def test_only_a_picture_that_a_line_of_the_recording_names_is_stored(shop, pictured, said_by, wait_until):
    archive = shop.archive()
    shop.run("publish", str(pictured), "--broker", shop.broker, "--machine", "g1", "--once", "--stored")
    say, name = said_by(pictured.read_bytes().split(b"\n")[0], "sleeve")
    topic = topic_of("shop", "g1", name, "picture-file")

    say(topic, b"no picture of this job")
    say(topic, b"x" * (LARGEST_KEPT + 1))

    wait_until(lambda: "no line of it names" in shop.said(archive), "the refusal")
    hashes = {hashlib.sha256(body).hexdigest() for body in files(pictured.parent).values()}
    assert {row[0] for row in shop.query("SELECT sha256 FROM store.picture_files")} == hashes
    shop.stop(archive)


def test_the_shops_screen_keeps_a_machines_pictures_beside_its_copy(
    mosquitto, pictured, tmp_path, wait_until
):
    publisher = Publisher(pictured, "g1", broker_of(mosquitto.url), lambda _: None)
    live = LiveShop(broker_of(mosquitto.url), tmp_path / "copies", lambda _: None)

    def arrived():
        publisher.turn(pause=0.0)
        live.turn()
        return files(tmp_path / "copies" / "g1") == files(pictured.parent)

    wait_until(arrived, "the pictures at the screen")
    publisher.close()
    live.stop()
    live.run()


def test_pictures_that_were_stored_by_an_older_program_are_known_after_the_migration(postgres, pictured):
    url = postgres.create("older_pictures")
    migrate(url)
    lines = pictured.read_bytes().split(b"\n")[:-1]
    key = ("g1", recording_name("sleeve", lines[0]))
    stored_by(url, key, lines)
    question = "SELECT seq, at, t, file, sha256, size, text FROM pictures ORDER BY seq"
    with psycopg.connect(url) as one:
        before = one.execute(question).fetchall()
        one.execute("DROP VIEW pictures; DROP TABLE store.pictures, store.picture_files")
        one.execute("DELETE FROM _yoyo_migration WHERE migration_id = '0003.pictures'")

    migrate(url)

    with psycopg.connect(url) as one:
        assert one.execute(question).fetchall() == before
    assert len(before) == 3
    database = Database(url)
    assert database.lacking_pictures([key]) == {key: [row[0] for row in before]}
    database.close()


def stored_by(url: str, key: tuple[str, str], lines: list[bytes]) -> None:
    database = Database(url)
    database.store({key: lines})
    database.close()


def test_a_folder_answers_about_its_pictures_as_the_database_does(postgres, pictured):
    url = postgres.create("asked_pictures")
    migrate(url)
    lines = pictured.read_bytes().split(b"\n")[:-1]
    stored_by(url, ("g1", recording_name("sleeve", lines[0])), lines)
    question = "SELECT seq, file, sha256, size, text FROM pictures ORDER BY seq"

    with psycopg.connect(url) as one:
        rows = one.execute(question).fetchall()

    assert [row[4] for row in rows] == [f"the {colour} one" for colour in COLOURS]
    assert asked(question, pictured.parent, lambda _: None).rows == rows
