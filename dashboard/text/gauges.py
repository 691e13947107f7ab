"""Words of the gauges' page."""

from __future__ import annotations

from typing import Final

GAUGE_WORDS: Final[dict[str, str]] = {
    "page.gauges": "Gauges",
    "gauge.heading": "Gauges of this job",
    "gauge.typed-gauge": "Keyboard gauge",
    "gauge.typed": "Reading: click here, then press the gauge's button",
    "gauge.typed-say": "Take the reading",
    "gauge.none": "No gauge yet. Look for one below, or start with tenths run JOB.",
    "gauge.measures-diameter": "diameter of the {part}",
    "gauge.measures-bore": "bore",
    "gauge.measures-infeed": "infeed",
    "gauge.measures-table": "table",
    "gauge.measures-power": "power",
    "gauge.measures-runout": "run-out",
    "gauge.measures-temperature": "temperature: {part}",
    "gauge.rate": "{rate} readings a second",
    "gauge.rate-slow": "a reading every {every}",
    "gauge.rate-none": "no rate yet",
    "gauge.age": "{age} ago",
    "gauge.age-none": "no reading yet",
    "gauge.readings": "{readings} readings",
    "gauge.garbled": "{garbled} unreadable, the last: {why}",
    "gauge.garbled-none": "none unreadable",
    "gauge.battery": "battery {level} %",
    "gauge.battery-none": "battery not known",
    "gauge.link-up": "{detail}, open for {since}",
    "gauge.link-down": "{detail}, for {since}",
    "gauge.link-was": "{detail}, was open for {since}",
    "gauge.link-none": "not opened yet",
    "gauge.downs": "lost {downs} ×",
    "gauge.downs-none": "never lost",
    "gauge.raw": "sent: {raw}",
    "gauge.hint-never": "Nothing has come. Is it on? Is it on this port? Look for gauges below.",
    "gauge.hint-down": "Trying again. Check cable, battery and distance, or look for gauges below.",
    "gauge.hint-stopped": "The capture has stopped. Start it again on the page Home.",
    "gauge.hint-ended": "No capture reads it. Start one on the page Home.",
    "gauge.hint-unknown": "The capture says nothing: is it still running?",
    "gauge.hint-silent": "No reading for longer than the sheet allows. Has it switched off?",
    "gauge.hint-garbled": (
        "{count} readings in a row make no sense. Check baud rate and parity, or look for gauges below."
    ),
    "gauge.hint-battery": "Change the battery soon.",
    "gauge.hint-unit": "It sends no length. Set its unit on the page Job.",
    "gauge.hint-none": "✓ nothing to do",
    "gauge.more": "The same in a terminal",
    "gauge.more-ports": "Ports and instruments in sight",
    "gauge.more-teach": "A gauge that the program cannot read yet: teach it",
    "gauge.more-job": "If you know its port and its format: add it on the page Job",
}
