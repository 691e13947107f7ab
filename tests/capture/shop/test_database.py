"""Whatever a recording says, its lines go into a real database and come out as they were."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.recording.codec import encode_event, first_chain, join_chain, next_chain
from capture.shop.archive.database import Database
from capture.shop.archive.schema import migrate
from capture.shop.messages.topics import recording_name

NUMBER = itertools.count()


@pytest.fixture(scope="module")
def opened(postgres):
    url = postgres.create("facts")
    migrate(url)
    migrate(url)  # a second time does nothing
    database = Database(url)
    yield database
    database.close()


def recorded(facts, began: str):
    """A header and the lines of its events, each with its chain."""
    header = b'{"format":1,"program":"test %d","began":"%b","job":{}}' % (next(NUMBER), began.encode())
    lines, chain = [], first_chain(header)
    for event in facts:
        body = encode_event(event)
        chain = next_chain(chain, body)
        lines.append(join_chain(body, chain)[:-1])
    return header, lines


def test_every_fact_there_is_comes_out_as_it_went_in(opened, every_fact, number_facts):
    @settings(max_examples=40)
    @given(
        st.lists(every_fact, max_size=20), st.sampled_from(["2026-03-02T09:14:07.000Z", "0001-01-01", "soon"])
    )
    def holds(facts, began):
        header, lines = recorded(number_facts(facts), began)
        key = ("g1", recording_name("any", header))

        outcome = opened.store({key: [header, *lines]})[key]
        again = opened.store({key: [header, *lines]})[key]

        assert (outcome.next, outcome.refused, again.next) == (len(lines), (), len(lines))
        assert b"".join(opened.take_out(key)) == b"".join(line + b"\n" for line in (header, *lines))

    holds()
