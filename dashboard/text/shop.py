"""Words of the shop's page."""

from __future__ import annotations

from typing import Final

SHOP_WORDS: Final[dict[str, str]] = {
    "shop.title": "The shop: {name}",
    "shop.connected": "Live from {place}",
    "shop.away": "No connection to {place}: what is shown is as it was",
    "shop.machines": "Machines",
    "shop.none": "No machine has sent anything yet.",
    "shop.machine": "Machine",
    "shop.says": "What it says",
    "shop.size": "Size at 20 °C",
    "shop.to-go": "To go",
    "shop.age": "Last word",
    "shop.gauges": "Gauges",
    "shop.job": "Job",
    "shop.gauges-well": "{number} well",
    "shop.gauge-down": "{name} is down",
    "shop.gauge-silent": "{name} is silent",
    "shop.gauge-garbled": "{name} sends what cannot be read",
    "shop.gauge-never": "nothing yet from {name}",
    "shop.old": "Last: {says}",
    "shop.offline": "Sends nothing now",
    "shop.behind": "Coming in: {events} events so far",
    "shop.refused": "Part of it is damaged: {why}",
    "shop.history": "History",
    "shop.no-database": "For the history start it with --database.",
    "shop.database-away": "The database does not answer: {why}",
    "shop.words": "Part or job",
    "shop.wheel": "Wheel",
    "shop.gauge": "Gauge",
    "shop.since": "From",
    "shop.until": "To",
    "shop.found": "{number} jobs in {seconds} s",
    "shop.found-newest": "{number} jobs in {seconds} s; the newest {shown} are shown",
    "shop.found-many": "More than {number} jobs, in {seconds} s; the newest are shown",
    "shop.found-none": "No job is like that.",
    "shop.bad-date": "“{came}” is no date: write it as 2026-03-01",
    "shop.began": "Began",
    "shop.passes": "Passes",
    "shop.verdict": "Ended",
    "shop.share": "Share of a pass",
    "shop.growth": "Growth by heat",
    "shop.changes": "What has changed over the months",
    "shop.changes-none": "Nothing sure at 99 % and large enough to be said, in {series} series of jobs.",
    "shop.changes-undecided": "Too little to say yet: {names}. Lots of wheels, calibrations and seasons "
    "shift as much in as few months. Look over a longer time.",
    "shop.changes-rule": "Said from eight jobs on, where the 99 % interval of the slope leaves no doubt of "
    "its direction and the change is large enough to matter.",
    "shop.gauge-drifts": "{of} drifts: {change} in {months} months, by {jobs} masterings "
    "({low} to {high} a month)",
    "shop.wheel-glazes": "{of} loses its bite sooner: {change} more a pass than {months} months ago, "
    "by {jobs} jobs ({low} to {high} a month)",
    "shop.machine-warms": "{of} warms its parts more: by {change} in {months} months, by {jobs} jobs "
    "({low} to {high} a month)",
    "shop.share-changes": "A pass at {of} takes another share: {change} in {months} months, by {jobs} jobs "
    "({low} to {high} a month)",
    "shop.wear-changes": "A diameter at {of} gets another part of an infeed: {change} in {months} months, "
    "by {jobs} jobs ({low} to {high} a month)",
    "shop.no-copy": "{name}: nothing of this machine's recording is here yet.",
    "shop.not-opened": "{name}: its page did not start: {why}",
}
"""Sentences with braces are filled in by the views."""
