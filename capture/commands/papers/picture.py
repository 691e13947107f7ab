"""`picture`: a picture joins the recording that is being written."""

from __future__ import annotations

from pathlib import Path

import click

from capture.commands.terminal import echo
from capture.host.disk import read_small
from capture.links.inbox.client import find, say
from capture.links.inbox.endpoint import NoCapture
from capture.recording.pictures import LARGEST_GIVEN, BadPicture, store_picture


@click.command("picture")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, exists=True))
@click.argument("text", nargs=-1)
@click.option(
    "--folder",
    type=click.Path(path_type=Path, file_okay=False),
    help="The folder of the job whose capture is meant.",
)
def picture_command(file: Path, text: tuple[str, ...], folder: Path | None) -> int:
    """Save a picture beside the running recording, bound to it by its hash.

    It is made anew as JPEG of at most 1600 pixels a side, without what the camera wrote into it.
    """
    try:
        place = find(folder)
        kept = store_picture(read_small(file, LARGEST_GIVEN), Path(place.recording).parent)
        reply = say(["picture", kept.file, kept.sha256, str(kept.size), *text], folder=folder)
    except (NoCapture, BadPicture) as error:
        raise click.UsageError(str(error)) from None
    except OSError as error:
        raise click.UsageError(f"{file}: {error.strerror or error}") from None
    if not reply.ok:
        raise click.UsageError(reply.refused)
    echo(f"{reply.seq}: {reply.said}")
    return 0
