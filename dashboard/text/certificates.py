"""Words of the page Certificates."""

from __future__ import annotations

from typing import Final

CERTIFICATE_WORDS: Final[dict[str, str]] = {
    "page.certificates": "Certificates",
    "certificates.none": "No job sheet is in this folder yet",
    "certificates.late-title": "Overdue",
    "certificates.overdue": "{sheet}: {what} was due on {due}: {status}. Nothing is proven with it.",
    "certificates.sheet": "Calibrations of {sheet}",
    "certificates.of": "Of",
    "certificates.size": "Size",
    "certificates.expanded": "U (k)",
    "certificates.limits": "Largest error",
    "certificates.certificate": "Certificate",
    "certificates.calibrated": "Calibrated",
    "certificates.due": "Due again on",
    "certificates.status": "State",
    "certificates.by-hand": "Write them by hand: page Job, more of each gauge",
    "certificates.read": "A certificate",
    "certificates.note": (
        "A digital calibration certificate (XML). Its signature and schema are not checked: compare the "
        "figures with the paper. Enter yourself when it is due again."
    ),
    "certificates.choose": "Read a certificate",
    "certificates.failed": "No answer from the dashboard: try again",
    "certificates.keep": "Write it onto the sheet",
    "certificates.place": "It is of",
    "certificates.which": "Which length",
    "certificates.no-place": "No sheet with a gauge is in this folder",
    "certificates.master": "{sheet}: the master of {gauge}",
    "certificates.gauge": "{sheet}: {gauge} itself",
    "certificates.number": "Certificate {number} of {item}",
    "certificates.days": "Calibrated {performed}, issued {issued}",
    "certificates.signed": "Signed; the signature was not checked",
    "certificates.unsigned": "Not signed",
    "certificates.length": "Length",
    "certificates.no-u": "without an uncertainty",
    "certificates.due-bad": "Due again on: came {came}, due {due}",
    "certificates.no-gauge": "No gauge {gauge} is on {sheet}: read the certificate again",
    "certificates.no-length": "No such length is in the certificate: read it again",
    "certificates.kept": "On {sheet}, {gauge}: {keys}. It takes effect at the next start of the capture.",
    "certificates.late": "It has been overdue since {due}.",
}
