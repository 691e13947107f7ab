"""Connections to a real broker: what ends them is named."""

from __future__ import annotations

import time

from capture.shop.messages.broker import broker_of
from capture.shop.messages.connection import FIRST_WAIT, LONGEST_WAIT, Connection, Wait


def test_two_programs_of_one_name_are_told_that_the_other_is_there(mosquitto):
    """A broker ends the older connection of a client identifier (OASIS MQTT 5.0, 3.1.4)."""
    broker, said = broker_of(f"mqtt://localhost:{mosquitto.port}/shop"), []
    both = [Connection(broker, "same", said.append, expiry=60) for _ in range(2)]
    end = time.monotonic() + 60

    while not any("another program uses the same name" in one for one in said) and time.monotonic() < end:
        for one in both:
            one.work(0.02)

    assert any("another program uses the same name" in one for one in said), said
    for one in both:
        one.close()


def test_the_waits_between_tries_grow_to_a_minute_and_are_short_again_after_success():
    wait = Wait()

    waits = [wait.failed(now=100.0) for _ in range(20)]

    # each is drawn within 30 % of twice the one before, so that many programs do not come back at once
    due = [min(FIRST_WAIT * 2**number, LONGEST_WAIT) for number in range(20)]
    assert all(0.7 * one <= came <= 1.3 * one for one, came in zip(due, waits, strict=True))
    assert wait.until == 100.0 + waits[-1]
    wait.reset()
    assert wait.failed(now=200.0) <= 1.3 * FIRST_WAIT


def test_a_broker_that_is_away_is_said_once_however_often_it_is_tried():
    """Port 9 of loopback (discard, RFC 863) is closed on a computer of our time."""
    said: list[str] = []
    one = Connection(broker_of("mqtt://127.0.0.1:9/shop"), "one", said.append, expiry=60)
    end = time.monotonic() + 3.0

    while time.monotonic() < end:
        one.work(0.05)

    assert said == ["broker 127.0.0.1:9/shop: Connection refused; trying again"]
    one.close()
