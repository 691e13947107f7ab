"""Words for what is in sight, a lesson step by step, and what is kept of it."""

from __future__ import annotations

from typing import Final

TEACH_WORDS: Final[dict[str, str]] = {
    # what is in sight
    "sight.serial": "Port",
    "sight.ble": "Bluetooth",
    "sight.named": "named on this sheet",
    "sight.signal": "signal {signal} dBm",
    "sight.battery": "battery {level} %",
    "sight.free": "on no gauge of this job",
    "sight.on-sheet": "gauge {gauge} of this job",
    "sight.busy": "gauge {gauge}, read by the running capture",
    "sight.said": "{ports} and {devices} in sight.",
    "sight.port": "1 port",
    "sight.ports": "{number} ports",
    "sight.device": "1 Bluetooth device",
    "sight.devices": "{number} Bluetooth devices",
    "sight.check-port-1": "No port: is the gauge's cable in at both ends, and the gauge switched on?",
    "sight.check-port-2": (
        "A cable or adapter for USB shows as a port only when the system has its driver: unplug it, look, "
        "plug it in, look again. If nothing changes, try another socket, another cable, then its driver."
    ),
    "sight.check-port-3": (
        "A gauge that types like a keyboard is no port: put the cursor into the field at the foot of this "
        "page and press its button."
    ),
    "sight.check-air": (
        "No Bluetooth device: switch the gauge on, wake it by pressing a key, bring it within a few metres, "
        "and see that no phone or other computer holds it connected."
    ),
    # looking
    "teach.title": "A new gauge, step by step",
    "teach.note": (
        "Finds gauges that are plugged in or in reach, learns an unknown format from a few readings, "
        "and adds the gauge to the sheet. A running capture is not disturbed."
    ),
    "teach.look": "Look for gauges",
    "teach.looking-now": "Looking, for some seconds …",
    "teach.viewer": "You can look, not change. Looking for gauges and teaching need the full address.",
    "teach.choose": "Teach it",
    "teach.choose-again": "Teach it again",
    "teach.offers-ask": "See its values",
    "teach.in-use": "To teach it again, stop the capture and open this page with tenths dashboard.",
    "teach.offers": "Which of its values is the reading? One that tells its unit needs no teaching.",
    "teach.offers-none": "It offers no value that can be read.",
    "teach.asking": "Connecting …",
    "teach.offer-take": "Keep this one",
    "teach.slow": "No answer within {seconds} s: look again.",
    "teach.broken": "The search has stopped by itself: look again.",
    "teach.looking": "Another search is running. Wait a few seconds and look again.",
    "teach.gone": "That gauge is no longer in sight. Look again.",
    "teach.busy": (
        "Gauge {gauge} is read by the running capture: end it, and open this page with tenths dashboard."
    ),
    "teach.other": "A gauge is being taught in another window: end it there, or wait some seconds.",
    "teach.over": "This lesson is over. Look again and begin a new one.",
    "teach.failed": "The dashboard did not answer. Is it still running?",
    # listening
    "teach.of": "Teaching {title}",
    "teach.step": "Step {number} of 4: {name}",
    "teach.listen": "Listen",
    "teach.show": "Show and type",
    "teach.check": "Compare",
    "teach.keep": "Name and keep",
    "teach.end": "End the lesson",
    "teach.opening": "Opening the port …",
    "teach.silent": "Silent: nothing has come yet. Press the gauge's data button, or let it send.",
    "teach.silent-more": (
        "Still nothing? Is it on, is its output switched on, is this its port? Some gauges speak only when "
        "asked: send what its manual says, below."
    ),
    "teach.trying": "Bytes come. Finding the setting of the line: trying {line} ({number} of {of}). "
    "Let it send, or press its button again.",
    "teach.found": "It reads as text at {line}.",
    "teach.fixed": "Listening at {line}.",
    "teach.unsure": (
        "Nothing read as text at any setting. It may speak in bytes, which can be learnt too: choose the "
        "setting that its manual says, below."
    ),
    "teach.heard": "Bytes come.",
    "teach.raw": "What came, as it came",
    "teach.count": "{bytes} bytes, the last {ago} ago",
    "teach.count-none": "no byte yet",
    "teach.line": "Setting of the line, or asking the gauge",
    "teach.baud": "Baud",
    "teach.frame": "Bits",
    "teach.frame-8N1": "8 bits, no parity",
    "teach.frame-7E1": "7 bits, even parity",
    "teach.frame-7O1": "7 bits, odd parity",
    "teach.frame-8E1": "8 bits, even parity",
    "teach.frame-8O1": "8 bits, odd parity",
    "teach.frame-7N2": "7 bits, 2 stop bits",
    "teach.set": "Listen with this",
    "teach.find": "Find it by listening",
    "teach.ask": "Send once a second",
    "teach.ask-hint": r"as its manual says; \r ends a line",
    "teach.send": "Send",
    # showing
    "teach.asks": "Now: {question}",
    "teach.plan": "What to show next",
    "teach.asks-done": "All that was asked for is known.",
    "teach.how": (
        "Hold the gauge still. Press its data button, or let it send. Then type what its display shows, "
        "with its sign and all its decimals."
    ),
    "teach.waiting": "Nothing has come since the last reading: press its button, or let it send.",
    "teach.ready": "✓ {bytes} bytes came: type what the display shows.",
    "teach.shown": "The display shows",
    "teach.unit": "Unit",
    "teach.take": "Take it",
    "teach.cannot": "It can't show this",
    "teach.back": "Take back the last",
    "teach.taken": "✓ {shown} {unit} taken. {next}",
    "teach.next": "Next: {question}.",
    "teach.readings": "Taken so far: {readings}",
    "teach.readings-none": "Nothing taken yet.",
    "teach.working": "Working it out …",
    # comparing
    "teach.sure-nothing": "Nothing is certain yet: show more readings, far from each other.",
    "teach.sure-reads": "It reads the gauge. What it has not seen yet it refuses, and never guesses:",
    "teach.sure-all": "It reads the gauge, and nothing is open.",
    "teach.learnt": "What was learnt",
    "teach.reads": "It reads now",
    "teach.reads-none": "nothing: press its button, or let it send",
    "teach.reads-refused": "refused: {why}",
    "teach.agree-ask": "Move the gauge to another value. Does its display show the same?",
    "teach.agree": "Yes, the same",
    "teach.differ": "No",
    "teach.differ-said": "Then type what the display shows, and take it: it learns from that.",
    "teach.agreed": "✓ Compared {agreed} ×: the same.",
    "teach.agreed-none": "Not compared yet: it can be kept when it has been compared once.",
    # keeping
    "keep.name": "Name of the gauge",
    "keep.measures": "It measures",
    "keep.part": "Temperature of",
    "keep.step": "Last place of its display, {unit}",
    "keep.sheet": "On {sheet}: gauge {gauge}. It takes effect at the next start of the capture.",
    "keep.to": "Add it to the sheet",
    "keep.to-none": "none: show me the lines",
    "keep.do": "Keep it",
    "keep.choose": "choose",
    "keep.lines": "Its lines on the sheet",
    "keep.file": "✓ Saved: {file}.",
    "keep.copy": "Copy these lines to the end of a sheet in this folder.",
    "keep.not": "Nothing was written: see the fields.",
    "keep.bad-name": (
        "“{came}” will not do: use letters a to z, digits, blanks, - and _, at most 40, beginning with a "
        "letter or digit"
    ),
    "keep.bad-step": "“{came}” will not do: write a number above 0, such as 0.001, or nothing",
    "keep.taken": "{file} exists and is not overwritten: choose another name",
    "keep.measures-due": "say what it measures",
    "keep.part-due": "say whose temperature it is",
    "keep.unwritable": "{file} cannot be written: {why}",
    "keep.unsure": "Keep it when it reads the gauge and you have compared it with the display once.",
    "keep.measures-diameter": "diameter of the shaft",
    "keep.measures-bore": "bore",
    "keep.measures-infeed": "infeed of the wheel",
    "keep.measures-power": "power of the wheel's drive",
    "keep.measures-temperature": "temperature",
    "keep.part-shaft": "shaft",
    "keep.part-bore": "bore",
    "keep.part-gauge": "gauge",
    "keep.part-master": "master",
    "keep.part-room": "room",
    "keep.part-coolant": "coolant",
    # units on a display
    "display.mm": "mm",
    "display.um": "µm",
    "display.in": "inch",
    "display.degC": "°C",
    "display.degF": "°F",
    "display.K": "K",
    "display.deg": "°",
    "display.%": "%",
    "display.N": "N",
    "display.W": "W",
    "display.kW": "kW",
    "display.1": "no unit",
}
