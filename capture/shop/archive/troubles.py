"""What is wrong with a database, in one sentence for a person."""

from __future__ import annotations

import re
from typing import Final

import psycopg

_CONNECTING: Final = re.compile(r"^connection failed: |connection to server .*? failed: |\b(FATAL|ERROR): +")
_MEANS: Final = (
    (
        r"password authentication failed for user \"(.*?)\"",
        "the password of user {0} is wrong, or there is no such user",
    ),
    (r"no password supplied", "it asks for a password and none came: due in ~/.pgpass or PGPASSWORD"),
    (r"database \"(.*?)\" does not exist", "the server has no database {0}"),
    (r"role \"(.*?)\" does not exist", "the server has no user {0}"),
    (
        r"no pg_hba.conf entry",
        "the server does not let this user in from here: its pg_hba.conf says who may come",
    ),
    (r"at \"(.*?)\", port (\d+) failed: Connection refused", "no server answers at {0}, port {1}"),
    (r"failed to resolve host '(.*?)'", "no computer is known by the name {0}"),
    (
        r"server closed the connection unexpectedly|the connection is closed|terminating connection due to",
        "the server ended the connection",
    ),
    (r"timeout expired|connection timeout", "the server has not answered for 10 s"),
    (r"system is (starting up|shutting down)", "the server is {0}"),
    (r"missing \"=\" after|invalid dsn", "its address cannot be read: due postgresql://user@host/database"),
)
"""Sentences of PostgreSQL's library (15, in English) and what they mean; others are given as they came."""


def why_of(error: Exception) -> str:
    """What *error* says of the database, on one line.

    >>> why_of(psycopg.OperationalError('connection failed: FATAL:  database "shopp" does not exist'))
    'the server has no database shopp'
    """
    if isinstance(error, psycopg.errors.UndefinedTable):
        return "it has no tables yet: an archive makes them when it starts (tenths archive)"
    text = " ".join(str(error).split())
    for mark, sentence in _MEANS:
        if found := re.search(mark, text):
            return sentence.format(*found.groups())
    return _CONNECTING.sub("", text)
