"""Fuzzes a picture: it is made anew small and without what was in it but pixels, or refused."""

from __future__ import annotations

import sys
from io import BytesIO

from fuzzing import fuzz
from PIL import Image

from capture.recording.pictures import LONGEST_SIDE, BadPicture, cleaned


def target(data: bytes) -> None:
    """Clean it; raises if what comes out is larger than it may be or carries more than pixels."""
    try:
        made = cleaned(data)
    except BadPicture as error:
        if not str(error).strip():
            raise RuntimeError("refused without a word") from error
        return
    with Image.open(BytesIO(made), formats=("JPEG",)) as opened:
        opened.load()
        if max(opened.size) > LONGEST_SIDE or opened.getexif() or "icc_profile" in opened.info:
            raise RuntimeError(f"{opened.size}, {sorted(opened.info)}")


if __name__ == "__main__":
    sys.exit(fuzz("picture", target))
