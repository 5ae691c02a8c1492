"""File names that every system and every unzipping program takes."""

from __future__ import annotations

import re
import unicodedata

LONGEST = 60  # characters; leaves room for endings on every file system
RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)$")  # device names on Windows
# Letters that do not decompose into a base letter and an accent.
PLAIN = str.maketrans({"ø": "o", "æ": "ae", "œ": "oe", "ß": "ss", "ł": "l", "đ": "d", "ð": "d",
                       "þ": "th", "ı": "i", "’": "", "'": "", "‘": ""})  # fmt: skip


def file_name(title: str, number: str = "") -> str:
    """`The Reedmaker's Latch` becomes `the-reedmakers-latch`; `tune-7` where no letter is left."""
    plain = unicodedata.normalize("NFKD", title.casefold().translate(PLAIN))
    letters = plain.encode("ascii", "ignore").decode()
    name = "-".join(re.findall(r"[a-z0-9]+", letters))[:LONGEST].strip("-")
    fallback = "-".join(re.findall(r"[a-z0-9]+", f"tune {number}".casefold()))
    if not name or RESERVED.match(name):
        return fallback if not name else f"{name}-tune"
    return name
