"""Connections to a real broker: what ends them is named."""

from __future__ import annotations

import time

from capture.shop.messages.broker import broker_of
from capture.shop.messages.connection import Connection


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
