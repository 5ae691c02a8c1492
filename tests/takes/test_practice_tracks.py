"""Practice tracks of a take whose every note is known, opened with FFmpeg.

A General MIDI soundfont plays the tune; before and after it somebody "talks" (bursts of noise).
"""

from __future__ import annotations

import json
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from cut_by_hand import following_of, played
from imagined_hearing import heard_of
from soundfont_takes import RATE, Played, Sound, pink_noise, sounded, write_wav

from reedwright.errors import ReedwrightError
from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.sound.recording.opening import open_recording
from reedwright.sound.spool import Spool
from reedwright.tab.arrange import arrange
from reedwright.takes.following.follow import follow
from reedwright.takes.model import Following, Passage, PassageKind
from reedwright.takes.practice.bars import chosen, times_played
from reedwright.takes.practice.cutting import Source, cut_track
from reedwright.takes.practice.model import Cut, Track, TrackKind
from reedwright.takes.practice.planning import LOOP_FADE, Names, cautions_on, planned
from reedwright.takes.practice.settings import Loop, PracticeSettings
from reedwright.takes.practice.times import track_times
from reedwright.takes.practice.tracks import write_tracks
from reedwright.takes.practice.trimming import Trim, trimmed
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.unfold import unfold

# Two parts of two bars, each played twice; an upbeat to the first.
TUNE = (
    "X:1\nT:Half a Polka\nC:Nobody\nR:polka\nM:2/4\nL:1/8\nQ:1/4=120\nK:G\n"
    "D2|:G2 Bd|e2 d2:||:c2 BA|G2 G2:|\n"
)
BEFORE = 2.0  # seconds of talk and silence before the tune
SETTINGS = PracticeSettings(
    speeds=(50,), parts=True, loops=(Loop(1, 1), Loop(3, 4)), rounds=3, artist="A. Player"
)


class Made(NamedTuple):
    """A take, what was played, how it was followed, and the tracks made of it."""

    path: Path
    notes: list[Played]
    following: Following
    folder: Path
    files: dict[str, str]
    shares: list[float]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    folder = tmp_path_factory.mktemp("practice")
    (tune,) = read_abc(TUNE)
    assert isinstance(tune, Tune)
    arrangement = arrange(tune, make_harp("G"), load_profile("player"))
    timeline, notes = played(arrangement, BEFORE)
    take = sounded(notes, noise_db=50).sound
    end = max(note.end for note in notes)
    take = np.pad(take, (0, 2 * RATE))
    for at in (0.1, 0.8, end + 1.6):  # talk
        burst = slice(round(at * RATE), round((at + 0.6) * RATE))
        take[burst] += 0.3 * pink_noise(burst.stop - burst.start, 3)
    path = write_wav(folder / "take.wav", take)
    following = following_of(arrangement, timeline, notes, BEFORE)
    passages = (
        Passage(PassageKind.OTHER, 0.0, 1.4),
        Passage(PassageKind.SILENCE, 1.4, notes[0].start),
        Passage(PassageKind.TUNE, notes[0].start, end),
        Passage(PassageKind.OTHER, end + 1.6, end + 2.2),
    )
    following = replace(following, passages=passages)
    out = folder / "tracks"
    out.mkdir()
    shares: list[float] = []
    files = write_tracks(
        open_recording(path), following, SETTINGS, out, "half", lambda s, _: shares.append(s)
    )
    return Made(path, notes, following, out, files, shares)


def tracks_of(made: Made, settings: PracticeSettings = SETTINGS) -> dict[str, Track]:
    trim = Trim(made.notes[0].start - 0.2, made.notes[-1].end + 1.0)
    found = planned(made.following, trim, settings, Names("half", "Half a Polka"), RATE)
    return {track.file: track for track in found}


def heard(path: Path) -> Sound:
    command = ["ffmpeg", "-v", "error", "-i", str(path), "-f", "f32le", "-ac", "1", "-"]
    return np.frombuffer(subprocess.run(command, capture_output=True, check=True).stdout, "<f4")


def rise(sound: Sound, around: float) -> float:
    """When the level passes a third of its top near a time, seconds."""
    first = max(0, round((around - 0.05) * RATE))
    level = np.convolve(sound[first : first + RATE // 8] ** 2, np.ones(200) / 200, "same")
    return (first + float(np.argmax(level > level.max() / 9))) / RATE


def test_every_track_asked_for_is_made_and_named(made: Made) -> None:
    names = {"half.mp3", "half-slow-50.mp3", "half-times.json"}
    for part in ("a-1", "a-2", "b-1", "b-2"):
        names |= {f"half-part-{part}.mp3", f"half-part-{part}-slow-50.mp3"}
    for loop in ("bar-1", "bars-3-4"):
        names |= {f"half-loop-{loop}-at-100.mp3", f"half-loop-{loop}-at-50.mp3"}
    assert set(made.files) == names
    assert {path.name for path in made.folder.iterdir()} == names
    assert made.files["half-part-b-2.mp3"] == "part B, second time, full tempo"
    assert made.shares == sorted(made.shares)
    assert made.shares[-1] == 1.0


def test_tags_are_read_by_another_program(made: Made) -> None:
    def tags(file: str) -> dict[str, str]:
        command = ["ffprobe", "-v", "error", "-show_format", "-of", "json"]
        said = subprocess.run([*command, str(made.folder / file)], capture_output=True, check=True)
        found: dict[str, str] = json.loads(said.stdout)["format"]["tags"]
        return found

    whole, part = tags("half-slow-50.mp3"), tags("half-part-a-2.mp3")
    assert whole["title"] == "Half a Polka (50 %)"
    assert part["title"] == "Half a Polka, part A, second time"
    assert whole["artist"] == "A. Player"
    assert whole["composer"] == "Nobody"
    assert whole["track"] == "2/14"
    assert "G harp" in part["comment"]


def test_talk_and_silence_are_left_out(made: Made) -> None:
    sound = heard(made.folder / "half.mp3")
    tune = made.notes[-1].end - made.notes[0].start
    assert tune + 0.2 < len(sound) / RATE < tune + 1.9
    assert rise(sound, 0.2) == pytest.approx(0.2, abs=0.04)
    before = sound[: round(0.15 * RATE)]
    assert np.abs(before).max() < 0.05 * np.abs(sound).max()
    slow = heard(made.folder / "half-slow-50.mp3")
    assert len(slow) / RATE == pytest.approx(2 * len(sound) / RATE, abs=0.001)


def test_rounds_of_a_loop_are_as_long_as_their_bars_to_the_sample(made: Made) -> None:
    """Decoded, each round is the last one again, as many samples later as the bars last."""
    for file, quarters, speed in (
        ("half-loop-bar-1-at-100.mp3", 2, 1.0),
        ("half-loop-bars-3-4-at-50.mp3", 4, 0.5),
    ):
        sound = heard(made.folder / file)
        track = tracks_of(made)[file]
        period = round(quarters * 0.5 / speed * RATE)
        first = round(track.cuts[0].at * RATE)
        assert len(track.cuts) == 3
        one = sound[first + 2000 : first + period - 2000]
        for lag in range(-3, 4):
            other = sound[first + 2000 + period + lag :][: len(one)]
            error = np.linalg.norm(other - one) / np.linalg.norm(one)
            assert (error < 0.05) == (lag == 0), (file, lag, error)


def test_rounds_join_in_a_held_note_without_a_knock(tmp_path: Path) -> None:
    """A tone cut where its wave does not match: the wave never jumps more than the tone itself."""
    tone = 0.5 * np.sin(2 * np.pi * 441.3 * np.arange(3 * RATE) / RATE)
    with Spool(1) as take:
        take.add(tone[:, None].astype(np.float32))
        cuts = tuple(Cut(1.0, 1.5, 0.1 + 0.5 * k) for k in range(3))
        track = Track(TrackKind.LOOP, "t.mp3", "T", "loop", 100, cuts, 1.6, LOOP_FADE)
        with cut_track(track, Source(take, 0.0, 1.0), tmp_path) as made:
            sound = made.read(0, len(made))[:, 0]
    assert len(sound) == round(1.6 * RATE)
    own = np.abs(np.diff(tone)).max()
    assert np.abs(np.diff(sound)).max() <= 1.01 * own
    # Between the fades every round is the tone itself.
    inside = slice(round(0.11 * RATE), round(0.55 * RATE))
    as_played = tone[round(1.01 * RATE) :][: inside.stop - inside.start]
    assert np.allclose(sound[inside], as_played, atol=1e-6)


def test_a_track_does_not_depend_on_the_pieces_it_is_laid_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    random = np.random.default_rng(3)
    cuts = tuple(Cut(1.0, 1.5, 0.1 + 0.5 * k) for k in range(4))
    track = Track(TrackKind.LOOP, "t.mp3", "T", "loop", 100, cuts, 2.1, LOOP_FADE)
    with Spool(2) as take:
        take.add(random.standard_normal((3 * RATE, 2)).astype(np.float32))
        source = Source(take, 0.0, 1.0)
        with cut_track(track, source, tmp_path) as made:
            whole = made.read(0, len(made))
        monkeypatch.setattr("reedwright.takes.practice.cutting.PIECE", 777)
        with cut_track(track, source, tmp_path) as made:
            assert np.array_equal(made.read(0, len(made)), whole)


def test_clicks_count_in_in_the_takes_own_tempo(made: Made) -> None:
    """A polka bar has two beats: clicks stand two and one beats before the bar."""
    for file, beat in (("half-loop-bar-1-at-100.mp3", 0.5), ("half-loop-bar-1-at-50.mp3", 1.0)):
        track = tracks_of(made)[file]
        note = made.notes[1].start  # the first of bar 1
        begins = track.cuts[0].at + (note - track.cuts[0].start) / track.speed
        assert [click.strong for click in track.clicks] == [True, False]
        times = [begins - click.time for click in track.clicks]
        assert times == pytest.approx([2 * beat, beat], abs=0.001)
        sound = heard(made.folder / file)
        for click in track.clicks:
            assert rise(sound, click.time) == pytest.approx(click.time, abs=0.004)


def test_a_part_begins_with_its_first_note_and_ends_with_its_last(made: Made) -> None:
    for file, first, quarters in (("half-part-a-2.mp3", 6, 4), ("half-part-b-1.mp3", 11, 4)):
        track = tracks_of(made)[file]
        (cut,) = track.cuts
        note = made.notes[first]
        assert cut.start < note.start < cut.start + 0.1
        assert cut.end == pytest.approx(note.start + quarters * 0.5, abs=0.02)
        sound = heard(made.folder / file)
        at = cut.at + note.start - cut.start
        assert rise(sound, at) == pytest.approx(
            rise_in_take(made, note) + at - note.start, abs=0.004
        )


def rise_in_take(made: Made, note: Played) -> float:
    return rise(heard(made.path), note.start)


def test_the_times_say_when_each_note_is_heard(made: Made) -> None:
    """Of the slow track: every note that comes out of a gap rises where the times have it."""
    times = json.loads((made.folder / "half-times.json").read_text())["tracks"]
    slow = times["half-slow-50.mp3"]
    assert slow["speed"] == 0.5
    full = heard(made.folder / "half.mp3")
    assert slow["seconds"] == pytest.approx(2 * len(full) / RATE, abs=0.001)
    spans = times["half.mp3"]["spans"]
    starts = sorted(span[0] for each in spans.values() for span in each)
    wanted = [note.start - made.notes[0].start + 0.2 for note in made.notes]
    assert starts == pytest.approx(wanted, abs=0.0002)
    for id_, each in slow["spans"].items():
        assert each == [pytest.approx([2 * t for t in span], abs=0.001) for span in spans[id_]]
    loop = times["half-loop-bars-3-4-at-50.mp3"]
    assert [bar[1] for bar in loop["bars"]] == [3, 4] * 3
    assert len(loop["spans"]) == 5
    assert all(len(each) == 3 for each in loop["spans"].values())


def test_tied_notes_each_have_their_time() -> None:
    (tune,) = read_abc("X:1\nT:T\nM:2/4\nL:1/8\nQ:1/4=120\nK:G\nG2 B2-|B2 d2|\n")
    assert isinstance(tune, Tune)
    arrangement = arrange(tune, make_harp("G"), load_profile("player"))
    timeline, notes = played(arrangement)
    following = following_of(arrangement, timeline, notes)
    (track,) = planned(
        following, Trim(0.0, 3.0), PracticeSettings(speeds=()), Names("t", "T"), RATE
    )
    spans = track_times(following, track).spans
    ids = [note.id for bar in tune.voices[0].bars for note in bar.notes]
    assert set(spans) == set(ids)
    assert spans[ids[2]][0].start == pytest.approx(spans[ids[1]][0].end)
    assert spans[ids[2]][0].start == pytest.approx(0.1 + 1.0, abs=0.03)


@pytest.mark.parametrize(
    ("music", "starts"),
    [  # of the notes as written, in crotchets, each time that they are played
        ("|:G2 A2|B4-:|B4|", [[0, 4], [1, 5], [2, 6], [8]]),
        ("|:G2 d2-|1 d4:|2 e4|", [[0, 4], [1, 5], [2], [6]]),
        ("|:G2 A2|G4-:|G2 A2|", [[0, 4], [1, 5], [2, 6], [8], [9]]),
    ],
)
def test_a_tie_counts_only_where_the_music_goes_on_with_it(
    music: str, starts: list[list[float]]
) -> None:
    (tune,) = read_abc(f"X:1\nT:T\nM:2/4\nL:1/8\nQ:1/4=120\nK:G\n{music}\n")
    assert isinstance(tune, Tune)
    arrangement = arrange(tune, make_harp("G"), load_profile("player"))
    sound = [
        Played(0.2 + float(n.onset) / 2, 0.2 + float(n.onset + n.length) / 2 - 0.02, n.pitch.midi)
        for n in unfold(tune).sounding
    ]
    following = follow(arrangement, heard_of(sound, jitter=0.0))
    (track,) = planned(
        following, Trim(0.0, 6.0), PracticeSettings(speeds=()), Names("t", "T"), RATE
    )
    spans = track_times(following, track).spans
    for note, wanted in zip((n for b in tune.voices[0].bars for n in b.notes), starts, strict=True):
        found = [(span.start - 0.2) * 2 for span in spans[note.id]]
        assert found == pytest.approx(wanted, abs=0.2), note.id


def test_the_time_that_was_played_cleanly_is_looped(made: Made) -> None:
    """Bar 3 is played twice; where a note of the first is missed the second is taken."""
    following = made.following
    first, second = times_played(following, 3, 3)
    assert chosen(following, Loop(3, 3)) == first
    missed = replace(following.notes[first.bars[0].first], heard=())
    notes = tuple(
        missed if n is following.notes[first.bars[0].first] else n for n in following.notes
    )
    assert chosen(replace(following, notes=notes), Loop(3, 3)) == second
    assert chosen(following, Loop(3, 3, time=2)) == second


def test_what_the_take_does_not_play_is_told(made: Made) -> None:
    for loop, words in (
        (Loop(9, 9), "does not play bar 9; it plays bars 1 to 4"),
        (Loop(3, 3, time=3), "bar 3 only 2 times; there is no third time"),
    ):
        with pytest.raises(ReedwrightError, match=words):
            tracks_of(made, PracticeSettings(loops=(loop,)))
    with pytest.raises(ReedwrightError, match="name the tune"):
        planned(None, Trim(0, 1), PracticeSettings(parts=True), Names("t", "T"), RATE)


@pytest.mark.parametrize(
    ("choices", "words"),
    [
        ({"speeds": (10,)}, "Speed 10 %"),
        ({"rounds": 0}, "0 rounds"),
        ({"retune": float("nan")}, "Retuning by nan"),
        ({"rumble": -1.0}, "Rumble"),
        ({"loops": ((4, 3),)}, "first bar goes first"),
    ],
)
def test_what_cannot_be_done_is_refused(choices: dict[str, object], words: str) -> None:
    with pytest.raises(ReedwrightError, match=words):
        PracticeSettings(**choices)  # type: ignore[arg-type]


def test_a_take_that_hardly_fits_is_whole_and_that_is_told(made: Made) -> None:
    doubtful = replace(made.following, sureness=0.2)
    found = planned(doubtful, Trim(1, 3), SETTINGS, Names("half", "Half a Polka"), RATE)
    assert {track.kind for track in found} == {TrackKind.WHOLE}
    (caution,) = cautions_on(doubtful, SETTINGS)
    assert "hardly fits 'Half a Polka'" in caution
    assert cautions_on(made.following, SETTINGS) == ()


def test_a_doubtful_following_does_not_trim_the_take(made: Made, tmp_path: Path) -> None:
    """Of the wrong tune a few notes may be found somewhere: the take is kept all the same."""
    few = made.following.notes[8:10]
    doubtful = replace(made.following, notes=few, bars=(), sureness=0.1)
    settings = PracticeSettings(speeds=())
    files = write_tracks(open_recording(made.path), doubtful, settings, tmp_path, "t")
    assert list(files) == ["t.mp3"]
    assert len(heard(tmp_path / "t.mp3")) / RATE > made.notes[-1].end - made.notes[0].start


def test_without_a_tune_silence_goes_and_the_take_stays(made: Made, tmp_path: Path) -> None:
    levels = np.full(1000, -80.0, dtype=np.float32)
    levels[300:700] = -20.0
    levels[100:102] = -10.0  # a knock
    assert trimmed(levels, None) == pytest.approx((2.8, 7.3), abs=0.02)
    files = write_tracks(
        open_recording(made.path), None, PracticeSettings(speeds=()), tmp_path, "own"
    )
    assert list(files) == ["own.mp3"]


def test_stopping_leaves_no_half_file(made: Made, tmp_path: Path) -> None:
    def stop(share: float, doing: str) -> None:
        if share > 0.3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_tracks(open_recording(made.path), made.following, SETTINGS, tmp_path, "t", stop)
    assert all(path.suffix == ".mp3" and path.stat().st_size for path in tmp_path.iterdir())
    assert not list(tmp_path.glob(".*"))


def test_a_stereo_phone_recording_is_retuned_and_kept_in_stereo(tmp_path: Path) -> None:
    notes = [Played(0.3, 1.8, 69.0)]
    sound = sounded(notes, cents=11.76).sound  # A 443
    write_wav(tmp_path / "l.wav", sound)
    write_wav(tmp_path / "r.wav", np.float32(0.5) * sound)
    command = [
        "ffmpeg",
        "-v",
        "error",
        "-i",
        str(tmp_path / "l.wav"),
        "-i",
        str(tmp_path / "r.wav"),
    ]
    join = ["-filter_complex", "amerge=inputs=2", "-c:a", "aac", "-b:a", "192k"]
    subprocess.run([*command, *join, str(tmp_path / "take.m4a")], check=True)
    out = tmp_path / "out"
    out.mkdir()
    settings = PracticeSettings(speeds=(), retune=-11.76)
    write_tracks(open_recording(tmp_path / "take.m4a"), None, settings, out, "t")
    raw = ["ffmpeg", "-v", "error", "-i", str(out / "t.mp3"), "-f", "f32le", "-"]
    stereo = np.frombuffer(subprocess.run(raw, capture_output=True, check=True).stdout, "<f4")
    left, right = stereo.reshape(-1, 2).T
    assert np.linalg.norm(right) / np.linalg.norm(left) == pytest.approx(0.5, abs=0.02)
    import parselmouth

    heard_pitch = parselmouth.Sound(left.astype(float), RATE).to_pitch_ac(
        pitch_floor=200, pitch_ceiling=800, very_accurate=True
    )
    hertz = heard_pitch.selected_array["frequency"]
    assert 1200 * np.log2(np.median(hertz[hertz > 0]) / 440) == pytest.approx(0, abs=3)
