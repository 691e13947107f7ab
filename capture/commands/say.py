"""`say`: a mark from the shell, a pedal or a script to a running capture."""

from __future__ import annotations

from pathlib import Path

import click
import msgspec

from capture.commands.options import AS_JSON
from capture.commands.terminal import echo, echo_json
from capture.links.inbox.client import say
from capture.links.inbox.endpoint import NoCapture
from capture.state.words.commands import USAGE

HELP = "\n".join(
    ["Send a word to the capture that runs here, or to the only one that runs.", "", "\b", *USAGE.values()]
)


@click.command("say", help=HELP, context_settings={"ignore_unknown_options": True})
@click.option(
    "--inbox", type=click.Path(path_type=Path), help="The inbox that the capture named when it began."
)
@click.option(
    "--folder",
    type=click.Path(path_type=Path, file_okay=False),
    help="The folder of the job whose capture is meant.",
)
@AS_JSON
@click.argument("words", nargs=-1, required=True, type=click.UNPROCESSED)
def say_command(inbox: Path | None, folder: Path | None, as_json: bool, words: tuple[str, ...]) -> int:
    """Answers when the word is on disk."""
    try:
        reply = say(words, inbox=inbox, folder=folder)
    except NoCapture as error:
        raise click.UsageError(str(error)) from None
    if as_json:
        echo_json(msgspec.json.encode(reply).decode())
    elif reply.ok:
        echo(f"{reply.seq}: {reply.said}")
    if not reply.ok and not as_json:
        raise click.UsageError(reply.refused)
    return 0 if reply.ok else 2
