"""Notes on the grid made writable: odd places moved, lengths settled, breaths closed.

Public: `placed`.
"""

from __future__ import annotations

from collections.abc import Sequence

from reedwright.takes.transcribing.metre import Reading
from reedwright.takes.transcribing.model import Placed, Stroke
from reedwright.takes.transcribing.rhythms import SIMPLE

# Our own judgement: a silence this long is a rest and not a breath.
SHORTEST_REST = 0.55  # seconds
SHORTEST_REST_TICKS = 9
REST_STEP = 6  # ticks: rests begin on quavers


def placed(strokes: Sequence[Stroke], reading: Reading) -> tuple[list[Placed], int]:
    """Notes in ticks from the first bar line, an anacrusis negative; and its ticks (0: none)."""
    bar = reading.ticks
    ticks = [int(t) + reading.shift for t in reading.fit.ticks]
    base = ticks[0] // bar * bar
    places = [t - base for t in ticks]
    anacrusis = bar - places[0] if places[0] else 0
    if anacrusis and places[-1] < bar:  # no bar line at all: what there is begins a bar
        places, anacrusis = [p - places[0] for p in places], 0
    if anacrusis:
        places = [p - bar for p in places]
    if reading.fit.family == SIMPLE:
        places = _straightened(places)
        anacrusis = max(0, -places[0])
    found: list[Placed] = []
    for k, stroke in enumerate(strokes):
        error = float(reading.fit.errors[k])
        if found and places[k] <= found[-1].onset:
            continue
        found.append(Placed(places[k], 0, stroke.midi, stroke.graces, error, stroke.surety))
    return _with_lengths(found, strokes, places, reading, anacrusis), anacrusis


def _straightened(places: Sequence[int]) -> list[int]:
    """Within each beat either triplets or even quavers and semiquavers, not both."""
    in_beat: dict[int, list[int]] = {}
    for place in places:
        in_beat.setdefault(place // 12, []).append(place % 12)
    return [12 * (p // 12) + _straight(p % 12, in_beat[p // 12]) for p in places]


def _straight(place: int, others: Sequence[int]) -> int:
    if place % 3 == 0:
        return place
    inner = set(others)
    if inner <= {0, 4, 8}:
        return place
    half = 0 if place < 6 else 6
    mates = {o for o in inner if half <= o < half + 6}
    if mates <= {half, half + 2, half + 4} and len(mates) == 3 and not inner & {3, 9}:
        return place
    if mates <= {half, half + 2, half + 4} and len(mates) == 3:
        return place
    return {2: 3, 4: 3, 8: 9, 10: 9}.get(place, round(place / 3) * 3)


def _with_lengths(
    notes: Sequence[Placed],
    strokes: Sequence[Stroke],
    places: Sequence[int],
    reading: Reading,
    anacrusis: int,
) -> list[Placed]:
    """Each note to the next one, rests apart; the last one to the end of its bar."""
    stroke_at: dict[int, Stroke] = {}
    for k, place in enumerate(places):
        stroke_at.setdefault(place, strokes[k])
    tick = 60.0 / reading.quarters_per_minute / 12
    found: list[Placed] = []
    for k, note in enumerate(notes):
        if k + 1 == len(notes):
            found.append(note._replace(length=_last_length(note, reading.ticks, anacrusis)))
            continue
        length = notes[k + 1].onset - note.onset
        stroke, following = stroke_at[note.onset], stroke_at[notes[k + 1].onset]
        silence = following.start - stroke.end
        if silence > SHORTEST_REST and silence > SHORTEST_REST_TICKS * tick:
            sounding = round((stroke.end - stroke.start) / tick / REST_STEP) * REST_STEP
            sounding = max(REST_STEP, sounding)
            if length - sounding >= SHORTEST_REST_TICKS and note.onset % REST_STEP == 0:
                length = sounding
        found.append(note._replace(length=length))
    return found


def _last_length(note: Placed, bar: int, anacrusis: int) -> int:
    within = note.onset % bar
    end = bar - anacrusis
    return end - within if within < end else bar - within
