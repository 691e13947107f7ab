"""Options and arguments that several commands have."""

from __future__ import annotations

from pathlib import Path

import click

AS_JSON = click.option("--json", "as_json", is_flag=True, help="Answer a program: JSON, lengths in mm.")

SETTINGS = click.option(
    "--set",
    "settings",
    multiple=True,
    metavar="KEY=VALUE",
    help="Decide with another limit, such as spark_out.limit=0.0008 (lengths in mm); may be given again.",
)

recording_argument = click.argument("recording", type=click.Path(path_type=Path, dir_okay=False, exists=True))
job_argument = click.argument("job", type=click.Path(path_type=Path, dir_okay=False, exists=True))
