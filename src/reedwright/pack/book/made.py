"""A tune of a book as it was made: its entry, and what a report says of how it is played.

This is what is kept from one time to the next, as compressed JSON.

Public: `MadeTune`, `made_tune`, `packed`, `unpacked`.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from dataclasses import dataclass, fields
from typing import Any

from reedwright.pack.book.arranging import arranged_and_told
from reedwright.pack.book.model import PlannedTune
from reedwright.page.book.model import BookLook, TuneEntry

FORM = 1
_LEVEL = 6  # zlib's own choice between speed and size
_DIGEST = hashlib.sha256().digest_size


@dataclass(frozen=True, slots=True)
class MadeTune:
    """`missing`: names of the notes that the harp lacks, as often as they are written. `octaves`,
    `semitones`: by which the tune was moved. `effort_per_note`: as played. `notices`: what the
    book's maker should know, a sentence each."""

    entry: TuneEntry
    octaves: int
    semitones: int
    effort_per_note: float
    missing: tuple[str, ...]
    notices: tuple[str, ...]


def made_tune(planned: PlannedTune, look: BookLook) -> MadeTune:
    """Arrange and engrave it. Raises what `arranged` and `tune_entry` raise."""
    from reedwright.page.book.entries import tune_entry

    arrangement, notices = arranged_and_told(planned)
    entry = tune_entry(planned.name, arrangement, look, planned.address, planned.words)
    return MadeTune(
        entry,
        arrangement.octaves,
        arrangement.semitones,
        arrangement.effort_per_note,
        tuple(missing.pitch for missing in arrangement.missing),
        (*arrangement.warnings, *notices),
    )


def packed(made: MadeTune) -> bytes:
    """As bytes for the stock: a digest, then compressed JSON."""
    entry = {each.name: getattr(made.entry, each.name) for each in fields(TuneEntry)}
    rest = {each.name: getattr(made, each.name) for each in fields(MadeTune)}
    values = {"form": FORM, **rest, "entry": entry}
    content = zlib.compress(
        json.dumps(values, ensure_ascii=False, separators=(",", ":")).encode(), _LEVEL
    )
    return hashlib.sha256(content).digest() + content


def unpacked(content: bytes) -> MadeTune | None:
    """The tune again; None for bytes that are damaged or of another form."""
    digest, rest = content[:_DIGEST], content[_DIGEST:]
    if hashlib.sha256(rest).digest() != digest:
        return None
    values: dict[str, Any] = json.loads(zlib.decompress(rest))
    if values.pop("form", None) != FORM:
        return None
    entry = values["entry"]
    if set(entry) != {each.name for each in fields(TuneEntry)}:
        return None
    return MadeTune(
        entry=TuneEntry(**{**entry, "also": tuple(entry["also"])}),
        octaves=values["octaves"],
        semitones=values["semitones"],
        effort_per_note=values["effort_per_note"],
        missing=tuple(values["missing"]),
        notices=tuple(values["notices"]),
    )
