"""The shop as it is now, followed over a real broker: the states are those of the recordings."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from capture.sessions import opened
from capture.shop.live import LiveShop
from capture.shop.messages.broker import broker_of
from capture.shop.publish.publisher import Publisher

RECORDINGS = Path(__file__).parents[3] / "recordings"


class Machine:
    """A machine with its recording, and its publisher."""

    def __init__(self, folder: Path, name: str, url: str) -> None:
        folder.mkdir()
        self.path = folder / f"{name}.jsonl"
        self.publisher = Publisher(folder, name, broker_of(url), lambda _: None)


@pytest.fixture
def machines(tmp_path, mosquitto):
    made = []

    def make(name: str) -> Machine:
        made.append(Machine(tmp_path / name, name, mosquitto.url))
        return made[-1]

    yield make
    for one in made:
        one.publisher.close()


@pytest.fixture
def live(tmp_path, mosquitto):
    said = []
    shop = LiveShop(broker_of(mosquitto.url), tmp_path / "copies", said.append)
    yield shop
    shop.stop()
    shop.run()


def turned(live, *machines: Machine, until, wait_until, what):
    def turn():
        for one in machines:
            one.publisher.turn(pause=0.0)
        live.turn()
        return until()

    wait_until(turn, what)


def test_each_machine_is_shown_as_its_recording_is(live, machines, wait_until):
    names = {"g1": "bore", "g2": "unplugged"}
    made = [machines(name) for name in names]
    for one, recording in zip(made, names.values(), strict=True):
        shutil.copy(RECORDINGS / f"{recording}.jsonl", one.path)

    turned(
        live,
        *made,
        until=lambda: (
            len(live.machines) == len(made)
            and not any(seen.behind or seen.path is None for seen in live.machines)
            and all(
                seen.path.read_bytes() == one.path.read_bytes()
                for seen, one in zip(live.machines, made, strict=True)
            )
        ),
        wait_until=wait_until,
        what="both recordings",
    )

    for seen, one in zip(live.machines, made, strict=True):
        due = opened(one.path).state
        assert (seen.name, seen.online, seen.refused) == (one.path.stem, True, "")
        assert seen.state.stations.taken == due.stations.taken
        assert (seen.state.seq, seen.state.kinds, seen.state.health) == (due.seq, due.kinds, due.health)


def test_who_comes_late_gets_the_whole_recording_and_what_follows(live, machines, wait_until):
    one = machines("g1")
    data = (RECORDINGS / "bore.jsonl").read_bytes()
    half = data[: data.index(b"\n", len(data) // 2) + 1]
    one.path.write_bytes(half)
    wait_until(lambda: one.publisher.turn(pause=0.0) or one.publisher.done, "it published")

    turned(
        live,
        one,
        until=lambda: live.machines and live.machines[0].state and live.machines[0].state.seq > 1000,
        wait_until=wait_until,
        what="the first half",
    )
    with one.path.open("ab") as file:
        file.write(data[len(half) :])
    turned(
        live,
        one,
        until=lambda: live.machines[0].path.read_bytes() == data,
        wait_until=wait_until,
        what="the second half",
    )


def test_the_newest_recording_of_a_machine_is_shown_and_its_leaving_said(live, machines, wait_until):
    one = machines("g1")
    shutil.copy(RECORDINGS / "good.jsonl", one.path.with_name("old.jsonl"))
    turned(
        live,
        one,
        until=lambda: live.machines and live.machines[0].recording.startswith("old"),
        wait_until=wait_until,
        what="the old one",
    )
    newer = (RECORDINGS / "bore.jsonl").read_bytes().replace(b"2026-03-02T09", b"2026-03-02T10", 1)
    header = newer.splitlines()[0]  # its lines do not fit it: the header alone is a recording
    one.path.with_name("new.jsonl").write_bytes(header + b"\n")
    turned(
        live,
        one,
        until=lambda: live.machines[0].recording.startswith("new"),
        wait_until=wait_until,
        what="the new one",
    )

    one.publisher.close()
    one.publisher.close = lambda: None
    turned(live, until=lambda: live.machines[0].online is False, wait_until=wait_until, what="its leaving")


def test_a_forged_line_is_said_and_changes_nothing(live, machines, said_by, wait_until):
    one = machines("g1")
    shutil.copy(RECORDINGS / "bore.jsonl", one.path)
    header, *lines = (RECORDINGS / "bore.jsonl").read_bytes().splitlines()
    say, name = said_by(header, stem="g1")
    turned(
        live,
        one,
        until=lambda: live.machines and live.machines[0].state and live.machines[0].state.seq == 2443,
        wait_until=wait_until,
        what="the recording",
    )

    say(f"shop/g1/{name}/reading", lines[-1].replace(b'"seq":2443', b'"seq":2444'))
    turned(live, until=lambda: live.machines[0].refused, wait_until=wait_until, what="a refusal")

    assert "chain" in live.machines[0].refused or "event" in live.machines[0].refused
    assert live.machines[0].path.read_bytes() == one.path.read_bytes()
