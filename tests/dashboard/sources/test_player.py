from __future__ import annotations

import pytest

from capture.events import Note
from capture.state import replay as retold
from capture.state import session as session_of
from capture.state.words.commands import parse_command
from dashboard.sources import player as replay
from dashboard.sources.feed import with_settings
from dashboard.sources.player import EVERY, SPEEDS, Player, Track, marks
from dashboard.sources.scene_store import SceneStore
from dashboard.views.registry import draw


class Hand:
    """A clock that is turned by hand."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def hand():
    return Hand()


@pytest.fixture
def player(recording, hand):
    """A player of the good session that has read it, at its start, at 10 ×."""
    one = Player(recording, SceneStore(draw), {}, 10.0, monotonic=hand)
    one.load()
    return one


def play(player, *does: str | tuple[str, float]):
    """The scene after one round in which all of *does* was wished."""
    for do in does:
        player.wish(*do) if isinstance(do, tuple) else player.wish(do)
    player.turn()
    return player.store.scene


def test_time_passes_at_the_speed_asked_for(player, hand):
    play(player)
    hand.now += 2.0
    scene = play(player)

    assert scene.transport.position == pytest.approx(20.0)


def test_every_place_shows_the_state_that_was_live_then(player, ground):
    states = [state for _, state in retold.replay_as_decided(ground.job, ground.events)]
    length = ground.events[-1].at.seconds
    for index in (40, 3, 74, 12, 13, 60):
        scene = play(player, "pause", ("seek", (ground.events[index].at.seconds + 1e-6) / length))

        assert scene.state == states[scene.state.seq]
        assert ground.events[scene.state.seq].at.seconds == ground.events[index].at.seconds


def test_a_paused_replay_stands_still(player, hand):
    before = play(player, "pause").transport.position
    hand.now += 60.0

    assert play(player).transport.position == before


def test_it_stops_at_the_end_and_starts_over_when_played_again(player, ground, hand):
    play(player)
    hand.now += 3600.0
    ended = play(player)
    again = play(player, "toggle")

    assert (ended.transport.playing, ended.state.seq) == (False, ground.events[-1].seq)
    assert (again.transport.playing, again.transport.position) == (True, 0.0)


def test_stepping_by_pass_shows_what_was_measured_after_each(player):
    numbers = [play(player, ("pass", 1)).state.stations.passes for _ in range(14)]

    assert numbers == list(range(14))
    assert play(player, ("pass", -1)).state.stations.passes == 12


def test_stepping_back_from_the_start_stays_there(player):
    assert play(player, "pause", ("pass", -1)).transport.position == 0.0


@pytest.mark.parametrize("share", [-1.0, 2.0, 0.5])
def test_a_place_outside_is_the_nearest_inside(player, share):
    scene = play(player, "pause", ("seek", share))

    assert scene.transport.position == pytest.approx(min(max(share, 0.0), 1.0) * scene.transport.length)


def test_speed_goes_up_and_down_by_steps_and_stays_within(player):
    up = [play(player, "faster").transport.speed for _ in range(9)]
    down = [play(player, "slower").transport.speed for _ in range(9)]

    assert up[-1] == SPEEDS[-1]
    assert down[-1] == SPEEDS[0]


def test_an_unknown_wish_changes_nothing(player):
    assert play(player, "pause", "fly").transport == play(player).transport


def test_decisions_made_again_are_those_of_the_program(recording, ground, hand):
    """The oracle is the session stepped over everything."""
    one = Player(recording, SceneStore(draw), {"spark_out.limit": "0.002"}, 1.0, monotonic=hand)
    one.load()
    scene = play(one, "pause", ("seek", 1.0))
    job = with_settings(ground.job, {"spark_out.limit": "0.002"})
    *_, (_, oracle) = retold.redecide(job, ground.events)

    assert scene.transport.redecided
    assert scene.state.grind == oracle.grind
    assert [event.fact.what for event in scene.state.flags] == [event.fact.what for event in oracle.flags]


def test_as_made_and_afresh_can_be_laid_side_by_side(recording, hand):
    one = Player(recording, SceneStore(draw), {"spark_out.limit": "0.002"}, 1.0, monotonic=hand)
    one.load()
    again = play(one, "pause", ("seek", 1.0)).state
    made = play(one, "redecide").state

    def sparked(state):
        return next(
            event.fact.pass_ for event in state.flags if event.fact.what in {"sparked-out", "at-size"}
        )

    assert sparked(again) < sparked(made)


def test_a_long_track_gets_anywhere_from_what_it_kept(ground):
    for n in range(3 * EVERY):
        ground.say("person", Note(f"note {n}"), 1000.0 + n)
    track = Track(ground.job, session_of.step, ground.events)
    states = [state for _, state in retold.replay_as_decided(ground.job, ground.events)]

    for index in (len(states) - 1, 0, EVERY, EVERY - 1, EVERY + 1, 2 * EVERY + 7, 5):
        assert track.towards(index, lambda: True) == (index, states[index])
    assert track.towards(-1, lambda: True) == (-1, session_of.start(ground.job))


def test_a_track_that_may_not_go_on_stops_where_it_is_and_comes_there_later(ground):
    track = Track(ground.job, session_of.step, ground.events)
    states = [state for _, state in retold.replay_as_decided(ground.job, ground.events)]

    assert [track.towards(40, lambda: False) for _ in range(41)] == list(enumerate(states[:41]))


def test_time_stands_still_while_states_are_worked_out(player, hand, monkeypatch):
    """A replay at any speed shows every place as it was, however long that takes to work out."""
    monkeypatch.setattr(replay, "PATIENCE", 0.0)
    shares = []
    play(player, "pause", ("seek", 1.0))
    while (scene := play(player)).kind == "loading":
        shares.append(scene.loaded)
        hand.now += 1.0

    assert shares == sorted(shares)
    assert len(shares) > 10
    assert scene.transport.position == scene.transport.length


def test_a_decision_that_a_person_took_back_is_taken_back_afresh_too(
    session, grinding_session, tmp_path, hand
):
    """Recorded, the word names the old decision; afresh there is another in its place, or none."""
    mine = session()
    grinding_session(mine, infeeds=[0.006] * 3)
    last = mine.events[-1].at.seconds
    mine.say("person", parse_command(["undo"], mine.state), last + 1)
    path = tmp_path / "undone.jsonl"
    path.write_bytes(mine.text())
    one = Player(path, SceneStore(draw), {"spark_out.limit": "0.002"}, 1.0, monotonic=hand)
    one.load()
    states = [play(one, "pause", ("seek", place)).state for place in (1.0, 0.5, 1.0)]
    oracle = retold.redecided_state(with_settings(mine.job, {"spark_out.limit": "0.002"}), mine.events)

    assert len(oracle.grind.passes) == len(mine.state.grind.passes)
    assert states[0].grind == states[2].grind == oracle.grind


def test_marks_stand_where_passes_flags_and_notes_are(ground):
    ground.say("person", Note("wheel dressed"), 900.0)
    found = list(marks(ground.events, ground.events[-1].at.seconds))

    assert [mark.share for mark in found] == sorted(mark.share for mark in found)
    assert sum(mark.kind in {"pass", "spark"} for mark in found) == 13
    assert found[-1].text == "Note: wheel dressed"
    assert found[-1].share == 1.0


def test_a_recording_cut_short_is_played_as_far_as_it_goes(tmp_path, ground, hand):
    path = tmp_path / "cut.jsonl"
    path.write_bytes(ground.text()[:-15])
    one = Player(path, SceneStore(draw), {}, 1.0, monotonic=hand)
    one.load()
    scene = play(one, "pause", ("seek", 1.0))

    assert scene.state.seq == len(ground.events) - 2
    assert "no end" in scene.trouble


def test_an_empty_recording_shows_its_job(tmp_path, session, hand):
    path = tmp_path / "empty.jsonl"
    path.write_bytes(session().text())
    one = Player(path, SceneStore(draw), {}, 1.0, monotonic=hand)
    one.load()

    assert play(one, ("pass", 1)).state.job.name == "Jig-borer spindle sleeve"
