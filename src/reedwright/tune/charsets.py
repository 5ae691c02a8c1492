"""Text from old files, whose bytes may be in any of several encodings."""

from __future__ import annotations

# What is called Latin-1 is in practice written by Windows, with quotation marks and dashes
# where Latin-1 proper has control characters; browsers read it so too (WHATWG Encoding
# Standard, section 4.2, names and labels).
LATIN_1 = "cp1252"

_CONTROLS_TO_SPACES = {code: " " for code in (*range(32), 127) if chr(code) not in "\t\n\r"}


def decoded_text(raw: bytes, charset: str = LATIN_1) -> str:
    """By UTF-8, else by `charset`. Control characters, which no font and no XML has, are spaces."""
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        text = raw.decode(charset, "replace")
    return without_controls(text)


def without_controls(text: str) -> str:
    """The text with spaces for control characters, tabs and line ends apart."""
    return text.translate(_CONTROLS_TO_SPACES)
