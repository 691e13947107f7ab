"""How a screen's process begins and ends: a wrong request is one line, and Ctrl-C is no fault."""

from __future__ import annotations

import sys

import click

from capture.text.printable import plain


def run_command(command: click.Command, name: str) -> None:
    """Runs *command*; exit status 2 where the request was wrong, 130 where it was stopped by hand."""
    try:
        command.main(prog_name=name, standalone_mode=False)
    except click.ClickException as error:
        click.echo(plain(f"{name}: {error.format_message()}"), err=True)
        sys.exit(2)
    except (click.Abort, KeyboardInterrupt):
        sys.exit(130)
