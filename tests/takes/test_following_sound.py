"""Following takes in sound that we did not make: FluidSynth's harmonica, in a room, with noise.

The goals are the issue's; benchmarks/following.py measures them on forty takes.
"""

from __future__ import annotations

import numpy as np
import pytest
from played_badly import perform
from soundfont_takes import sampled_tunes, sounded

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.sound.hearing.listening import hear_sound
from reedwright.tab.arrange import arrange
from reedwright.takes.following.follow import follow
from reedwright.takes.model import PassageKind
from reedwright.tune.form import find_form


@pytest.mark.parametrize("which", [2, 5])
def test_a_take_with_a_false_start_a_part_left_out_and_drift_is_followed(which: int) -> None:
    tunes = [tune for tune in sampled_tunes(60) if find_form(tune) == "AABB"]
    arrangement = arrange(tunes[which], make_harp("G"), load_profile("player"))
    played = perform(
        arrangement, skip_repeats=(1,), false_start=8, drift=0.15, rubato=0.02, semitones=-4
    )
    take = sounded(played.notes, cents=12, reverberation=0.3, noise_db=20)
    following = follow(arrangement, hear_sound(take.sound, take.rate))
    by = {(note.id, note.time): note.start for note in following.notes}
    errors = np.array([abs(by[t.id, t.time] - t.start) for t in played.written])
    assert np.median(errors) < 0.020
    assert np.quantile(errors, 0.95) < 0.050
    assert [bar.index for bar in following.bars] == [bar.index for bar in played.bars]
    assert following.skipped == ("the repeat of part A was left out",)
    kinds = [passage.kind for passage in following.passages]
    assert kinds.count(PassageKind.FALSE_START) == 1
    assert following.semitones == -4
    assert following.sureness > 0.8
    starts = [
        abs(one.start - two.start) for one, two in zip(following.bars, played.bars, strict=True)
    ]
    assert max(starts) < 0.1
