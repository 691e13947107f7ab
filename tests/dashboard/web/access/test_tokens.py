from __future__ import annotations

import os

import pytest

from capture.host.private_files import runtime_folder
from dashboard.web.access.tokens import NAME, UNGUESSABLE, BadToken, own_token, tokens_of

posix = pytest.mark.skipif(os.name == "nt", reason="Windows keeps to the rights of the folder")


def test_on_this_machine_alone_a_dashboard_asks_for_its_users_own_token():
    tokens = tokens_of(None, None, None, reachable=False)

    assert tokens.own
    assert tokens.view is None
    assert len(tokens.speak) >= UNGUESSABLE


def test_a_page_still_opens_when_its_dashboard_was_started_again():
    assert own_token() == own_token()


@posix
def test_nobody_else_can_read_the_users_own_token():
    own_token()

    assert (runtime_folder() / NAME).stat().st_mode & 0o077 == 0
    assert runtime_folder().stat().st_mode & 0o077 == 0


@posix
def test_a_token_that_others_could_read_is_replaced():
    before = own_token()
    (runtime_folder() / NAME).chmod(0o644)

    assert own_token() != before
    assert (runtime_folder() / NAME).stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("content", [b"", b"short", b"\xff" * 40])
def test_a_file_that_holds_no_token_is_replaced(content):
    own_token()
    (runtime_folder() / NAME).write_bytes(content)

    assert len(own_token()) >= UNGUESSABLE


@posix
def test_a_pipe_in_the_place_of_the_file_is_not_waited_for():
    runtime_folder().mkdir(mode=0o700)
    os.mkfifo(runtime_folder() / NAME, 0o600)

    assert len(own_token()) >= UNGUESSABLE


@pytest.fixture
def file(tmp_path):
    """A private file of that content."""

    def made(content: str, mode: int = 0o600):
        path = tmp_path / "tokens"
        path.write_text(content, "utf-8")
        path.chmod(mode)
        return path

    return made


def test_a_private_file_gives_one_token_or_two(file):
    one = tokens_of(None, None, file("right-to-speak\n"), reachable=True)
    two = tokens_of(None, None, file("right-to-speak\nright-to-watch\n"), reachable=True)

    assert (one.speak, one.own) == ("right-to-speak", False)
    assert len(one.view) >= 12
    assert (two.speak, two.view) == ("right-to-speak", "right-to-watch")


@posix
def test_a_file_that_others_may_read_is_refused(file):
    with pytest.raises(BadToken, match="chmod 600"):
        tokens_of(None, None, file("right-to-speak\n", 0o644), reachable=True)


@pytest.mark.parametrize("content", ["", "one two three", "\xe9" * 20])
def test_a_file_of_something_else_is_refused(file, content):
    with pytest.raises(BadToken, match="--token-file"):
        tokens_of(None, None, file(content), reachable=True)


@pytest.mark.parametrize(
    ("token", "viewer", "sentence"),
    [
        (None, None, "a --token is due"),
        ("", None, "a --token is due"),
        ("short", None, "--token: 5 characters came, due at least 12"),
        ("right-to-speak", "short", "--viewer-token: 5 characters came"),
        ("right to speak;", None, "without blank"),
        ("right-to-spe\u00e4k", None, "letters, digits"),
        ("right-to-speak", "right-to-speak", "due another"),
    ],
)
def test_a_token_that_cannot_be_used_is_named(token, viewer, sentence):
    with pytest.raises(BadToken, match=sentence):
        tokens_of(token, viewer, None, reachable=True)


def test_tokens_are_given_once(file):
    with pytest.raises(BadToken, match="once"):
        tokens_of("right-to-speak", None, file("right-to-speak"), reachable=True)


def test_a_viewers_token_alone_is_refused_rather_than_ignored():
    with pytest.raises(BadToken, match="beside it"):
        tokens_of(None, "right-to-watch", None, reachable=False)
