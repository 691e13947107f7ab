from __future__ import annotations

import os

import pytest

from capture.events import Beat, Event, Instant
from capture.host.clock import Clock
from capture.links.inbox.endpoint import NAME, Endpoint
from capture.links.inbox.server import InboxFiles
from capture.recording.codec import encode_event, encode_header
from capture.recording.opening import create
from capture.state import replay
from capture.state import session as session_of
from dashboard.sources.feed import OLD, Feed, closed, newest
from dashboard.sources.scene_store import SceneStore
from dashboard.views.registry import draw

SECOND = 1_000_000_000


@pytest.fixture
def feed():
    """Opens feeds; the wall clock stands a second after the good session's end, or where it is told."""
    opened = []

    def begin(path, session=None, *, later=1.0, settings=None):
        end = session.events[-1].at.wall if session is not None and session.events else 0
        one = Feed(path, SceneStore(draw), settings or {}, wall=lambda: end + int(later * SECOND))
        opened.append(one)
        return one

    yield begin
    for one in opened:
        one.stop()
        one.run()


def settle(feed):
    """Rounds until nothing is waiting; the folder is looked at in the first."""
    for _ in range(3):
        while feed.turn():
            pass
    return feed.store.scene


def test_what_is_appended_is_shown(tmp_path, feed, ground):
    path = tmp_path / "sleeve.jsonl"
    path.write_bytes(encode_header(ground.header) + b"\n")
    one = feed(path, ground)
    seen = [settle(one).state.seq]
    for event in ground.events:
        with path.open("ab") as file:
            file.write(encode_event(event) + b"\n")
        seen.append(settle(one).state.seq)

    assert seen == list(range(-1, len(ground.events)))


def test_the_state_shown_is_that_of_a_replay(recording, feed, ground):
    """Live is replay, bit for bit."""
    *_, (_, replayed) = replay.replay_as_decided(ground.job, ground.events)

    assert settle(feed(recording, ground)).state == replayed


def test_half_a_line_is_waited_for(tmp_path, feed, ground):
    path = tmp_path / "sleeve.jsonl"
    whole = ground.text()
    path.write_bytes(whole[:-20])
    one = feed(path, ground)
    before = settle(one).state.seq
    with path.open("ab") as file:
        file.write(whole[-20:])

    assert (before, settle(one).state.seq) == (len(ground.events) - 2, len(ground.events) - 1)


def test_a_recording_that_is_replaced_is_shown_from_its_start(recording, feed, ground, session, reading):
    one = feed(recording, ground)
    settle(one)
    other = session()
    other.say("mike", reading(55.5), 1.0)
    draft = recording.with_suffix(".new")
    draft.write_bytes(other.text())
    draft.replace(recording)

    assert settle(one).state == other.state


def test_a_recording_that_is_cut_short_is_read_again(recording, feed, ground):
    one = feed(recording, ground)
    settle(one)
    lines = recording.read_bytes().splitlines(keepends=True)
    recording.write_bytes(b"".join(lines[:6]))

    assert settle(one).state.seq == 4


def test_damage_is_said_with_its_line_and_what_stands_before_it_is_shown(tmp_path, feed, ground):
    path = tmp_path / "sleeve.jsonl"
    lines = ground.text().splitlines(keepends=True)
    lines[10] = b'{"seq":99}\n'
    path.write_bytes(b"".join(lines))
    scene = settle(feed(path, ground))

    assert scene.state.seq == 8
    assert "sleeve.jsonl:11" in scene.trouble


def test_a_file_that_is_no_recording_is_said_to_be_none(tmp_path, feed):
    path = tmp_path / "letter.jsonl"
    path.write_bytes(b"Dear customer,\n")

    assert "not a recording" in settle(feed(path)).trouble


def test_a_recording_that_is_not_there_yet_is_waited_for(tmp_path, feed, ground):
    path = tmp_path / "sleeve.jsonl"
    one = feed(path, ground)
    assert settle(one).kind == "waiting"

    path.write_bytes(ground.text())
    assert settle(one).kind == "live"


def test_an_empty_folder_waits_and_takes_the_first_recording_by_itself(tmp_path, feed, ground):
    one = feed(tmp_path, ground)
    assert settle(one).kind == "waiting"

    (tmp_path / "sleeve.jsonl").write_bytes(ground.text())
    one.look_at_once()

    assert settle(one).name == "sleeve.jsonl"


def test_a_newer_recording_is_offered_while_this_one_lives(tmp_path, feed, ground):
    first, second = tmp_path / "a.jsonl", tmp_path / "b.jsonl"
    first.write_bytes(ground.text())
    one = feed(tmp_path, ground)
    settle(one)
    second.write_bytes(ground.text())
    os.utime(second, ns=(first.stat().st_mtime_ns + SECOND,) * 2)
    one.look_at_once()
    offered = settle(one)
    one.show_newer()

    assert (offered.name, offered.newer) == ("a.jsonl", "b.jsonl")
    assert settle(one).name == "b.jsonl"


def test_a_newer_recording_takes_the_place_of_an_old_one(tmp_path, feed, ground):
    first, second = tmp_path / "a.jsonl", tmp_path / "b.jsonl"
    first.write_bytes(ground.text())
    one = feed(tmp_path, ground, later=OLD + 10)
    assert settle(one).kind == "old"

    second.write_bytes(ground.text())
    os.utime(second, ns=(first.stat().st_mtime_ns + SECOND,) * 2)
    one.look_at_once()

    assert settle(one).name == "b.jsonl"


def test_age_is_counted_from_the_last_event(recording, feed, ground):
    assert settle(feed(recording, ground, later=14.0)).age == pytest.approx(14.0)


def test_a_clock_set_back_gives_no_negative_age(recording, feed, ground):
    assert settle(feed(recording, ground, later=-3600.0)).age == 0.0


def test_a_beat_without_a_reading_keeps_it_live(tmp_path, feed, ground):
    path = tmp_path / "sleeve.jsonl"
    ground.say("daemon", Beat(), 2000.0)
    path.write_bytes(ground.text())

    assert settle(feed(path, ground, later=2.0)).kind == "live"


def test_settings_of_this_screen_are_used_and_told(recording, feed, ground):
    scene = settle(feed(recording, ground, settings={"spark_out.limit": "0.002"}))

    assert scene.state.job.settings.spark_out.limit == 0.002
    assert scene.settings == "spark_out.limit = 0.002"


def test_two_browsers_see_the_same_in_their_own_units(recording, feed, ground):
    one = feed(recording, ground)
    settle(one)
    metric, inch = one.store.shown("grinding", "mm")[1], one.store.shown("grinding", "in")[1]

    assert metric["banner@data-state"] == inch["banner@data-state"] == "at-size"
    assert float(inch["size"]) * 25.4 == pytest.approx(float(metric["size"]), abs=2e-4)


def test_without_an_inbox_nothing_can_be_said(recording):
    assert "tenths run" in closed(recording, recording.parent / NAME)
    assert "tenths run" in closed(None, None)


def test_words_go_to_the_inbox_that_was_told(recording, tmp_path):
    told = tmp_path / "elsewhere" / NAME

    assert Feed(recording, SceneStore(draw), {}).inbox == recording.parent / NAME
    assert Feed(recording, SceneStore(draw), {}, inbox=told).inbox == told


def test_the_newest_recording_is_the_one_changed_last(tmp_path):
    for n, name in enumerate(("b", "a")):
        path = tmp_path / f"{name}.jsonl"
        path.touch()
        os.utime(path, ns=(n * SECOND,) * 2)

    assert newest(tmp_path) == tmp_path / "a.jsonl"
    assert newest(tmp_path / "nowhere") is None


def test_a_fault_of_the_program_does_not_leave_the_page_looking_alive(recording, feed, ground, monkeypatch):
    one = feed(recording, ground)

    def broken(_state, _event):
        raise ZeroDivisionError

    monkeypatch.setattr(session_of, "step", broken)
    with pytest.raises(ZeroDivisionError):
        one.run()

    assert "start it again" in one.store.scene.trouble


def test_the_screen_goes_over_to_the_file_in_which_a_cut_recording_goes_on(tmp_path):
    """The capture says where, in the file of its inbox."""
    path = tmp_path / "session.jsonl"
    recorder = create(path, {"job": {"name": "sleeve", "units": "mm"}}, Clock.start())
    recorder.append([Event(n, Instant(n, n), "daemon", Beat()) for n in range(5)])
    files = InboxFiles(tmp_path)
    files.announce(Endpoint("127.0.0.1", 9, "x", 1, str(path), "now"))
    feed = Feed(path, SceneStore(draw), {})
    feed.turn()
    path.write_bytes(path.read_bytes()[:-30])
    recorder.append([Event(5, Instant(5, 5), "daemon", Beat())])
    assert files.renew(recorder.path) == ""
    feed.look_at_once()
    feed.turn()
    feed.turn()
    files.close()
    recorder.close()

    assert feed.path == tmp_path / "session-2.jsonl"
    assert feed.store.scene.state.seq == 5
