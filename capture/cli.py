"""The command line: names every command, and imports one only when it is asked for."""

from __future__ import annotations

import sys
from importlib import import_module
from typing import Any

import click

from capture import __version__
from capture.commands.terminal import echo

COMMANDS: dict[str, tuple[str, str]] = {
    "open": ("screen", "Show a folder's jobs in the browser: begin one, capture it, look at it."),
    "demo": ("demo", "Grind a simulated part on this screen: nothing to connect."),
    "run": ("live", "Capture a job and show it in the browser."),
    "capture": ("live", "Read the gauges of a job sheet into a recording."),
    "dashboard": ("screen", "Show a folder's newest recording, or one recording, in the browser."),
    "say": ("say", "Send a word to the running capture: pass 0.004, station shaft 80 0, undo …"),
    "replay": ("screen", "Play a recording on the screen, at any speed."),
    "summary": ("look", "Report what a recording shows: stations, passes, verdicts, advice, taper."),
    "plan": ("fit", "Work out plating and grinding sizes for the measured bore."),
    "steps": ("steps", "List open steps: set-up, wheel and work, bake, lap, trial assembly."),
    "picture": ("papers.picture", "Save a picture beside the running recording."),
    "certificate": ("papers.certificate", "Read a digital calibration certificate of a master or a gauge."),
    "fit": ("fit", "Calculate the clearance at every place where the parts meet."),
    "report": ("papers.papers", "Write the customer's record as HTML, PDF or data."),
    "export": ("papers.papers", "Write a recording's readings as CSV, Parquet or JSON."),
    "check": ("look", "Check a recording line by line; mend a last line cut by a power failure."),
    "gauges": ("teaching.gauges", "List ports and Bluetooth devices in sight, or watch a sheet's gauges."),
    "teach": ("teaching.teach", "Learn the format of an unknown gauge from examples."),
    "formula": ("formula", "Work out one formula of the trade: tolerances, V-blocks, speeds, cooling."),
    "roundness": ("form", "Find how round a part is, by lobes, and what the set-up cannot see."),
    "chatter": ("form", "Find chatter in a gauge's stream: frequency, lobes, likely cause, aliases."),
    "study": ("fit", "Find what a gauge can do: repeatability, bias, several people."),
    "publish": ("shop.messaging", "Publish recordings to a shop's MQTT broker, and follow them."),
    "archive": ("shop.messaging", "Store what a shop's machines publish in a database; give it out again."),
    "shop": ("shop.messaging", "Show every machine of a shop, live, and its history."),
    "ask": ("shop.ask", "Answer a question in SQL about a folder's recordings."),
    "machine": ("machine", "Show what earlier jobs recorded of a grinder, or learn from a recording."),
    "bench": ("bench", "Measure speed and accuracy on this computer, as ratios."),
}
"""Each command's room in `capture.commands`, and what it does."""


class _Rooms(click.Group):
    """A group whose commands are imported when they are used: ``--help`` must answer at once."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return super().get_command(ctx, cmd_name)
        room = import_module(f"capture.commands.{COMMANDS[cmd_name][0]}")
        command: click.Command = getattr(room, cmd_name + "_command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002 - click's signature
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.group(
    cls=_Rooms, invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]}
)
@click.version_option(__version__, prog_name="tenths")
@click.pass_context
def tenths(ctx: click.Context) -> int | None:
    """Bring a worn sliding fit back to a few micrometres, and prove it.

    Without a command it opens this folder in the browser, as the command open does.

    Exit status: 0 done; 1 the answer is no; 2 the request was wrong.
    """
    if ctx.invoked_subcommand is not None:
        return None
    from capture.commands.screen import open_command  # noqa: PLC0415 - used here alone

    status: int = ctx.invoke(open_command)
    return status


def main(args: list[str] | None = None) -> None:
    """Run a command; a wrong request is one line on standard error, without a traceback."""
    try:
        status: Any = tenths.main(args, prog_name="tenths", standalone_mode=False)
    except click.ClickException as error:
        echo(f"tenths: {error.format_message()}", err=True)
        sys.exit(error.exit_code if error.exit_code == 1 else 2)
    except click.Abort:
        sys.exit(130)
    except OverflowError:
        echo("tenths: the numbers are too large to work with", err=True)
        sys.exit(2)
    except BrokenPipeError:
        # The reader of a pipe has gone (`tenths summary … | head`): nothing more to say to it.
        sys.stderr.close()
        sys.exit(0)
    sys.exit(status if isinstance(status, int) else 0)


if __name__ == "__main__":
    main()
