r"""Accents and other signs in text: `\'e`, `&eacute;`, `\u00e9` (ABC 2.1, section 8.2)."""

from __future__ import annotations

import html
import re
import unicodedata

ACCENTS = {
    "`": "\u0300",
    "'": "\u0301",
    "^": "\u0302",
    "~": "\u0303",
    '"': "\u0308",
    ",": "\u0327",
    "c": "\u0327",
    "u": "\u0306",
    "v": "\u030c",
    "H": "\u030b",
    "r": "\u030a",
    "=": "\u0304",
    ";": "\u0328",
    ".": "\u0307",
}
LIGATURES = {
    "AA": "Å",
    "aa": "å",
    "AE": "Æ",
    "ae": "æ",
    "OE": "Œ",
    "oe": "œ",
    "ss": "ß",
    "DH": "Ð",
    "dh": "ð",
    "TH": "Þ",
    "th": "þ",
    "/O": "Ø",
    "/o": "ø",
    "/D": "Đ",
    "/d": "đ",
    "/L": "Ł",
    "/l": "ł",
}
_ESCAPE = re.compile(
    r"\\(?:u([0-9a-fA-F]{4})|U([0-9a-fA-F]{8})|([23][0-7]{2})"
    r"|(AA|aa|AE|ae|OE|oe|ss|DH|dh|TH|th|/[OoDdLl])|([`'^~\",cuvHr=;.])([A-Za-z])|([%&\\\"]))"
)
_ENTITY = re.compile(r"&(?:#\d{1,7}|#x[0-9a-fA-F]{1,6}|[A-Za-z][A-Za-z0-9]{1,30});")


def decode_text(text: str) -> str:
    """A field's text with its mnemonics as the signs they stand for."""
    if "\\" in text:
        text = _ESCAPE.sub(_decoded, text)
    if "&" in text:
        text = _ENTITY.sub(lambda found: html.unescape(found[0]), text)
    return text


_SYLLABLE_ESCAPE = re.compile(r"\\([-_*~| ])|~|" + _ESCAPE.pattern)


def decode_syllable(text: str) -> str:
    """A syllable of a `w:` line: `~` is a blank, a backslash takes a sign's meaning away."""
    if "\\" in text or "~" in text:
        text = _SYLLABLE_ESCAPE.sub(_decoded_in_syllable, text)
    if "&" in text:
        text = _ENTITY.sub(lambda found: html.unescape(found[0]), text)
    return text


def _decoded_in_syllable(found: re.Match[str]) -> str:
    if found[0] == "~":
        return " "
    if found[1]:
        return str(found[1])
    again = _ESCAPE.match(found[0])
    return _decoded(again) if again else found[0]


def _decoded(found: re.Match[str]) -> str:
    four, eight, octal, ligature, accent, letter, plain = found.groups()
    if four or eight:
        code = int(four or eight, 16)
        return chr(code) if code <= 0x10FFFF and not 0xD800 <= code <= 0xDFFF else found[0]
    if octal:
        return chr(int(octal, 8))
    if ligature:
        return LIGATURES[ligature]
    if accent:
        joined = unicodedata.normalize("NFC", letter + ACCENTS[accent])
        return joined if len(joined) == 1 else found[0]
    return str(plain)


def encode_text(text: str) -> str:
    r"""Text as it may stand in a field: `\` and `%` escaped, and what would read as an entity."""
    if "\\" in text:
        text = text.replace("\\", "\\\\")
    if "%" in text:
        text = text.replace("%", "\\%")
    if "&" in text:
        text = _ENTITY.sub(lambda found: "\\" + found[0], text)
    return text
