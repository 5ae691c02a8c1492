"""MP3 tracks opened with FFmpeg: loudness, peaks, lengths, places, tags."""

import json
import re
import subprocess
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyloudnorm
import pytest
from sounding_tunes import AIR, REEL, example, from_abc

from reedwright.errors import ReedwrightError
from reedwright.sound.loudness import integrated_loudness, levelled, true_peak
from reedwright.sound.mp3 import TrackTags, write_mp3
from reedwright.sound.rendering import TrackInfo, Wanted, render_track, render_tracks
from reedwright.sound.timing import plan
from reedwright.sound.voice import RATE, render


@pytest.fixture(scope="module")
def tracks(tmp_path_factory: pytest.TempPathFactory) -> list[TrackInfo]:
    folder = tmp_path_factory.mktemp("tracks")
    return [
        *render_tracks(
            example(REEL, "G"),
            [Wanted(1.0, folder / "reel.mp3"), Wanted(0.55, folder / "reel-55.mp3")],
        ),
        render_track(example(AIR), 1.0, folder / "air.mp3"),
    ]


def ffmpeg(*arguments: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(["ffmpeg", "-hide_banner", *arguments], capture_output=True, check=True)


def decoded(path: Path) -> npt.NDArray[np.float32]:
    raw = ffmpeg("-v", "error", "-i", str(path), "-f", "f32le", "-").stdout
    return np.frombuffer(raw, np.float32).reshape(-1, 2)


def test_an_independent_meter_finds_minus_16_lufs_and_peaks_under_minus_1(
    tracks: list[TrackInfo],
) -> None:
    for track in tracks:
        said = ffmpeg(
            "-nostats", "-i", str(track.path), "-af", "ebur128=peak=true", "-f", "null", "-"
        ).stderr.decode()
        summary = said[said.rindex("Summary:") :]
        loudness = float(re.search(r"I:\s+(-?[\d.]+) LUFS", summary)[1])  # type: ignore[index]
        peak = float(re.search(r"Peak:\s+(-?[\d.]+) dBFS", summary)[1])  # type: ignore[index]
        assert loudness == pytest.approx(-16, abs=0.11)
        assert peak < -1
        assert loudness == pytest.approx(track.loudness, abs=0.11)


def test_decoded_length_is_the_timelines_to_a_millisecond(tracks: list[TrackInfo]) -> None:
    for track in tracks:
        seconds = len(decoded(track.path)) / RATE
        assert abs(seconds - track.timeline.duration) < 0.001
        assert abs(seconds - track.duration) < 0.001


def test_notes_and_clicks_are_where_the_timeline_says(tmp_path: Path) -> None:
    arrangement = from_abc("c2z2 e2z2|g2z2 c4|]", tempo="1/4=90")
    track = render_track(arrangement, 1.0, tmp_path / "t.mp3")
    coded = decoded(track.path)
    plain, _ = levelled(render(track.timeline), RATE)
    # The decoded track against the samples handed to the coder: no shift, not by one frame.
    for click in track.timeline.clicks:
        at = round((click.time - 0.03) * RATE)
        ours, theirs = plain[at : at + 8192, 0], coded[at : at + 8192, 0]
        match = np.fft.irfft(np.fft.rfft(theirs) * np.conj(np.fft.rfft(ours)))
        assert np.argmax(match) == 0
    level = np.abs(plain).max()
    for note in track.timeline.notes:
        start = round(note.span.start * RATE)
        assert np.abs(coded[start + 200 : start + 3000]).max() > 0.15 * level


def test_coding_hardly_changes_the_sound(tracks: list[TrackInfo]) -> None:
    track = tracks[0]
    plain, _ = levelled(render(track.timeline), RATE)
    error = decoded(track.path) - plain
    assert 10 * np.log10(np.mean(error**2) / np.mean(plain**2)) < -35
    # The overtones are there, too (4 to 8 kHz), not only the loud low partials.
    hertz = np.fft.rfftfreq(len(plain), 1 / RATE)
    band = (hertz > 4000) & (hertz < 8000)
    lost, whole = (np.sum(np.abs(np.fft.rfft(x[:, 0])[band]) ** 2) for x in (error, plain))
    assert 10 * np.log10(lost / whole) < -15


def test_tags_are_read_by_another_program(tracks: list[TrackInfo]) -> None:
    probe = ["ffprobe", "-v", "error", "-show_format", "-of", "json", str(tracks[1].path)]
    said = subprocess.run(probe, capture_output=True, check=True).stdout
    tags = json.loads(said)["format"]["tags"]
    assert tags["title"] == "The Reedmaker's Latch (55 %)"
    assert tags["album"] == "The Reedmaker's Latch"
    assert tags["artist"]
    assert tags["track"] == "2/2"
    assert "G harp" in tags["comment"] and "55 %" in tags["comment"]
    assert tags["language"] == "eng"


def test_any_text_is_tagged_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "t.mp3"
    write_mp3(np.zeros((4410, 2), np.float32), RATE, path, TrackTags("Ó'Néill – 笛 ♭"))
    probe = ["ffprobe", "-v", "error", "-show_format", "-of", "json", str(path)]
    said = subprocess.run(probe, capture_output=True, check=True).stdout
    assert json.loads(said)["format"]["tags"]["title"] == "Ó'Néill – 笛 ♭"


@pytest.mark.parametrize("frames", [1152, 11_520, 44_100, 100_001])
def test_sound_decodes_to_its_length(tmp_path: Path, frames: int) -> None:
    sound = np.full((frames, 2), 0.1, np.float32)
    write_mp3(sound, RATE, tmp_path / "t.mp3", TrackTags("T"))
    assert len(decoded(tmp_path / "t.mp3")) == frames


def test_the_same_tune_gives_the_same_bytes(tmp_path: Path) -> None:
    arrangement = from_abc("c2d2e2f2|g8|]")
    for name in ("a.mp3", "b.mp3"):
        render_track(arrangement, 1.0, tmp_path / name)
    assert (tmp_path / "a.mp3").read_bytes() == (tmp_path / "b.mp3").read_bytes()


def test_stopping_leaves_the_old_file_and_nothing_half_made(tmp_path: Path) -> None:
    path = tmp_path / "t.mp3"
    path.write_bytes(b"old")

    def stop(share: float) -> None:
        if share > 0.3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        render_track(from_abc("c2d2e2f2|g8|]"), 1.0, path, progress=stop)
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_is_not_there_is_an_error_in_words(tmp_path: Path) -> None:
    with pytest.raises(ReedwrightError, match="cannot be written"):
        render_track(from_abc("c8|]"), 1.0, tmp_path / "no" / "t.mp3")


def test_progress_rises_to_one(tmp_path: Path) -> None:
    shares: list[float] = []
    render_track(from_abc("c8|]"), 1.0, tmp_path / "t.mp3", progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_our_meter_agrees_with_an_independent_one(rate: int) -> None:
    # pyloudnorm, an implementation of ITU-R BS.1770.
    chance = np.random.default_rng(4)
    sound = chance.standard_normal((5 * rate, 2)) * np.linspace(0.001, 0.2, 5 * rate)[:, None]
    theirs = pyloudnorm.Meter(rate).integrated_loudness(sound)
    assert integrated_loudness(sound.astype(np.float32), rate) == pytest.approx(theirs, abs=0.05)


def test_a_full_scale_tone_at_997_hz_measures_minus_3_lufs() -> None:
    # ITU-R BS.1770: 0 dBFS, 997 Hz, in one channel reads -3.01 LKFS.
    tone = np.sin(2 * np.pi * 997 * np.arange(5 * RATE) / RATE).astype(np.float32)
    sound = np.stack([tone, np.zeros_like(tone)], axis=1)
    assert integrated_loudness(sound, RATE) == pytest.approx(-3.01, abs=0.05)


def test_peaks_between_samples_are_found() -> None:
    # A quarter of the sample rate, an eighth of a turn on: samples at 0.707, the wave at 1.
    tone = np.sin(np.pi / 2 * np.arange(8000) + np.pi / 4).astype(np.float32)
    tone *= np.hanning(8000).astype(np.float32)
    assert true_peak(np.stack([tone, tone], axis=1)) == pytest.approx(0.0, abs=0.1)


def test_sharp_peaks_are_limited_and_loudness_kept() -> None:
    quiet = render(plan(from_abc("c8|d8|e8|]"), count_in=False))
    peaks = quiet.copy()
    peaks[RATE : RATE + 40] += 0.9 * np.hanning(40)[:, None]
    sound, levels = levelled(peaks, RATE)
    assert levels.peak < -1.5
    theirs = pyloudnorm.Meter(RATE).integrated_loudness(sound.astype(float))
    assert theirs == pytest.approx(-16, abs=0.1)


def test_silence_stays_silent() -> None:
    silence = np.zeros((RATE, 2), np.float32)
    assert not levelled(silence, RATE)[0].any()
