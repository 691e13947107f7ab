"""The server's log, in which whoever asks for anything could write without a token."""

from __future__ import annotations

import logging

from dashboard.web.server import WARNED_EVERY, SeldomWarnings


def logged(*records: tuple[int, str, float]) -> list[str]:
    seldom, through = SeldomWarnings(), []
    for level, text, at in records:
        record = logging.LogRecord("uvicorn.error", level, "x", 1, text, (), None)
        record.created = at
        if seldom.filter(record):
            through.append(text)
    return through


def test_a_warning_is_logged_once_a_minute_however_often_it_is_caused():
    floods = [(logging.WARNING, "Invalid HTTP request received.", 100.0 + n / 1000) for n in range(5000)]
    later = (logging.WARNING, "Invalid HTTP request received.", 100.0 + WARNED_EVERY)

    assert logged(*floods, later) == ["Invalid HTTP request received."] * 2


def test_every_error_is_logged_and_a_warning_does_not_hide_another():
    records = [
        (logging.WARNING, "one", 0.0),
        (logging.WARNING, "other", 0.0),
        (logging.ERROR, "fault", 0.0),
        (logging.ERROR, "fault", 0.0),
    ]

    assert logged(*records) == ["one", "other", "fault", "fault"]
