"""Prints the reference of the sheet: ``python -m capture.sheet > capture/sheet/REFERENCE.md``."""

import sys

from capture.sheet.reference import reference

if __name__ == "__main__":
    sys.stdout.write(reference())
