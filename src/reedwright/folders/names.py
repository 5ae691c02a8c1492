"""File names that every system and every unzipping program takes."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Container
from itertools import chain, count

LONGEST = 60  # characters; leaves room for endings on every file system
LONGEST_MARK = 12  # characters of a number that tells names apart
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


def unused_file_name(title: str, number: str, used: Container[str]) -> str:
    """`file_name`, told apart by the tune's number, else by counting, where `used` has it.

    Many tunes of one book may have one title, titles alike in all that a name holds, or even
    one number; each has a pack of its own.
    """
    name = file_name(title, number)
    told = "-".join(re.findall(r"[a-z0-9]+", number.casefold()))[:LONGEST_MARK].strip("-")
    marks = chain(["", told], (f"no-{nth}" for nth in count(2)))
    return next(tried for tried in (_marked(name, mark) for mark in marks) if tried not in used)


def _marked(name: str, mark: str) -> str:
    return f"{name[: LONGEST - len(mark) - 1].strip('-')}-{mark}" if mark else name
