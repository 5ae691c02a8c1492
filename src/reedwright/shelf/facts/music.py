"""A hash of a tune's music, whatever its words: what two prints of the same notes have in common.

Counted are the pitches (as MIDI notes, however spelled), lengths, ties and rests of every voice and
layer, where bars begin and end, and what is played again: repeats, endings, jumps, the order of
parts. Not counted are all words (titles, fields, lyrics, chord symbols), ornaments (grace
notes, decorations), slurs, how lengths are beamed and bar lines drawn, key and metre as far as
they change no note, and tempo. Tunes in another key or octave have another hash: whether they are
settings of one tune is for `shelf.likenesses` to say.

Public: `music_hash`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

from reedwright.tune.model import Change, Event, Note, Tune

_BYTES = 16


def music_hash(tune: Tune) -> str:
    """32 hex digits (BLAKE2b, RFC 7693)."""
    parts: list[str] = []
    labelled = bool(tune.part_order)
    if labelled:
        parts.append(" ".join(tune.part_order))
    for voice in tune.voices:
        parts.append("V")
        for bar in voice.bars:
            sign = "|:" if bar.repeat_open and bar.index else "|"
            if bar.ending:
                sign += ",".join(map(str, bar.ending))
            if bar.marks:
                sign += " ".join(sorted(bar.marks))
            if labelled and bar.part is not None:
                sign += f"P{bar.part}"
            parts.append(sign)
            _add(parts, bar.events)
            for layer in bar.overlays:
                parts.append("&")
                _add(parts, layer)
            if bar.repeat_close:
                parts.append(f":{bar.repeat_close}")
    return hashlib.blake2b("\n".join(parts).encode(), digest_size=_BYTES).hexdigest()


def _add(parts: list[str], events: Iterable[Event]) -> None:
    for event in events:
        if isinstance(event, Note):
            if len(event.pitches) == 1:
                pitch = f"{event.pitches[0].midi}{'-' if event.ties[0] else ''}"
            else:
                pitches = zip(event.pitches, event.ties, strict=True)
                pitch = ",".join(sorted(f"{p.midi}{'-' if tied else ''}" for p, tied in pitches))
            parts.append(f"{pitch} {event.length}")
        elif not isinstance(event, Change):
            parts.append(f"z {event.length}")
