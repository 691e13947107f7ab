"""What PostgreSQL's library says of a database becomes one sentence for a person."""

from __future__ import annotations

import psycopg
import pytest

from capture.shop.archive.archive import Archive
from capture.shop.archive.database import Database
from capture.shop.archive.schema import BadDatabase, migrate
from capture.shop.archive.troubles import why_of
from capture.shop.history.search import History, JobSearch
from capture.shop.messages.broker import broker_of


def trouble_of(url: str) -> str:
    with pytest.raises(psycopg.Error) as raised:
        Database(url)
    return why_of(raised.value)


def test_a_database_that_is_not_there_is_named(postgres):
    assert trouble_of(postgres.url("nothing")) == "the server has no database nothing"


def test_a_user_that_is_not_there_is_named(postgres):
    url = postgres.url().replace("tester", "nobody")

    assert trouble_of(url) == "the server has no user nobody"


def test_where_no_server_answers_is_said_with_the_port(engine):
    port = engine.free_port()

    assert (
        trouble_of(f"postgresql://me@127.0.0.1:{port}/shop") == f"no server answers at 127.0.0.1, port {port}"
    )


def test_a_name_that_no_computer_has_is_said():
    # RFC 6761: names under .invalid are never known
    assert (
        trouble_of("postgresql://me@office.invalid/shop") == "no computer is known by the name office.invalid"
    )


def test_a_database_without_tables_says_who_makes_them(postgres):
    history = History(postgres.create("bare"))

    with pytest.raises(psycopg.Error) as raised:
        history.search(JobSearch())

    assert "tenths archive" in why_of(raised.value)
    history.close()


def test_a_server_that_goes_away_while_it_is_asked_is_said_in_few_words():
    # as PostgreSQL 15's library says it of a server that was ended at once
    came = (
        "consuming input failed: server closed the connection unexpectedly\n\tThis probably means the server "
        "terminated abnormally\n\tbefore or while processing the request."
    )
    assert why_of(psycopg.OperationalError(came)) == "the server ended the connection"


def test_what_has_no_sentence_is_given_on_one_line_without_its_level():
    assert (
        why_of(psycopg.OperationalError("connection failed: FATAL:  too many\n clients"))
        == "too many clients"
    )


@pytest.mark.parametrize("url", ["mysql://me@host/shop", "shop", ""])
def test_an_address_of_no_database_is_refused_before_anything_is_tried(url):
    with pytest.raises(BadDatabase, match="due postgresql://"):
        Archive(broker_of("mqtt://127.0.0.1/shop"), url, print, name="one")
    with pytest.raises(BadDatabase, match="due postgresql://"):
        migrate(url)
