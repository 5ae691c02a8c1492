"""Praat, which others wrote, hears every long note within 5 cents of equal temperament.

Praat's autocorrelation method (P. Boersma, 1993) through the parselmouth library; A4 is
440 Hz (ISO 16). The whole sound is judged, with breath, vibrato and room.
"""

import numpy as np
import parselmouth
import pytest
from sounding_tunes import AIR, REEL, cents, example

from reedwright.sound.timing import plan
from reedwright.sound.voice import RATE, render

LONG = 0.15  # seconds
SPEAKING, LETTING_GO = 0.06, 0.03  # seconds at the ends of a note that are not its pitch


@pytest.mark.parametrize("tune, speed", [(AIR, 1.0), (REEL, 0.55)], ids=["air", "slow reel"])
def test_every_long_note_is_heard_within_5_cents(tune: int, speed: float) -> None:
    timeline = plan(example(tune, "G"), speed=speed)
    heard = parselmouth.Sound(render(timeline).mean(axis=1).astype(np.float64), RATE).to_pitch_ac(
        time_step=0.005, pitch_floor=150, pitch_ceiling=2500, very_accurate=True
    )
    times, hertz = heard.xs(), heard.selected_array["frequency"]
    tried = 0
    for note in timeline.notes:
        if note.is_grace or note.seconds <= LONG or note.sounding is None or note.sounding.bend:
            continue
        held = (times > note.span.start + SPEAKING) & (times < note.span.end - LETTING_GO)
        voiced = hertz[held & (hertz > 0)]
        assert len(voiced) > 2, f"{note.id} is not heard"
        wanted = 440.0 * 2 ** ((note.midi - 69) / 12)
        assert abs(cents(float(np.median(voiced)), wanted)) < 5, (note.id, note.midi)
        tried += 1
    assert tried > 40
