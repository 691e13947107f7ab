"""A capture in a folder with the shop's settings publishes what it records, and does without them too."""

from __future__ import annotations

import pytest

from capture.shop.messages.settings import BadShopSettings, settings_in


def test_a_capture_publishes_its_recording_while_it_runs(tenths, job, port, shop, mosquitto, wait_until):
    (job.parent / "shop.toml").write_text(f'[shop]\nbroker = "{mosquitto.url}"\nmachine = "g7"\n', "utf-8")
    archive = shop.archive()
    capture = tenths.capture(str(job))
    for number in range(5):
        port.send(b"+055.%03d mm\r\n" % number)
    capture.until("reading", 5)

    wait_until(lambda: sum(shop.stored().values()) >= 5, "the readings in the database")
    port.send(b"+055.999 mm\r\n")
    capture.until("reading", 6)
    capture.stop()

    data = (tenths.folder / capture.recording).read_bytes()
    wait_until(lambda: sum(shop.stored().values()) == data.count(b"\n") - 1, "the last of it")
    assert shop.take_out(capture.recording.stem, "g7") == data
    shop.stop(archive)


@pytest.mark.parametrize(
    ("text", "due"),
    [("[shop]\n", "broker"), ("[shop]\nbroker = 1\n", "broker"), ("[shoop]\n", "shoop"), ("=", "Invalid")],
)
def test_settings_that_cannot_be_used_are_named(tmp_path, text, due):
    (tmp_path / "shop.toml").write_text(text, "utf-8")

    with pytest.raises(BadShopSettings, match=due):
        settings_in(tmp_path)


def test_a_capture_goes_on_where_the_settings_are_wrong_or_the_broker_is_away(tenths, job, port):
    for text in ("broker", '[shop]\nbroker = "mqtt://127.0.0.1:9/shop"\n'):
        (job.parent / "shop.toml").write_text(text, "utf-8")
        capture = tenths.capture(str(job))
        port.send(b"+055.001 mm\r\n")
        capture.until("reading", 1)

        assert "stopped: " in capture.stop()
