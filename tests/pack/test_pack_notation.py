"""What a pack says of its notation files."""

from pathlib import Path

from reedwright.harp.making import make_harp
from reedwright.pack.pages import abc_heading
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes

TUNES = Path(__file__).parents[2] / "examples" / "tunes.abc"


def test_abc_of_a_tune_in_another_key_says_how_it_was_moved() -> None:
    tune = next(read_tunes(TUNES))
    assert isinstance(tune, Tune)
    harp, player = make_harp("A"), load_profile("player")
    moved = abc_heading(arrange(tune, harp, player, octaves=-1, semitones=2))
    assert "moved 1 octave down and 2 semitones up from its written pitch" in moved
    assert "moved" not in abc_heading(arrange(tune, harp, player))
