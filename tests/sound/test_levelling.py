"""Sound on disk: levelled, coded and cleared of rumble piece by piece, judged by FFmpeg."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import av
import numpy as np
import pytest
from soundfont_takes import pink_noise

from reedwright.errors import ReedwrightError
from reedwright.sound.finishing import coded_levels, write_track
from reedwright.sound.gapless import FrameCounter
from reedwright.sound.levelling import level
from reedwright.sound.loudness import Array32, LoudnessMeter, integrated_loudness, levelled
from reedwright.sound.mp3 import BIT_RATE, TrackTags, write_mp3, write_mp3_pieces
from reedwright.sound.rumble import Rumble, corner_for
from reedwright.sound.spool import Spool

RATE = 44_100


def noise(seconds: float, channels: int = 1, seed: int = 5) -> Array32:
    """Pink noise that swells, so that gating has something to do."""
    frames = int(seconds * RATE)
    sound = 0.3 * np.stack([pink_noise(frames, seed + k) for k in range(channels)], axis=1)
    swell = 0.05 + np.sin(np.linspace(0, 9, len(sound))) ** 2
    return (sound * swell[:, None]).astype(np.float32)


def spooled(sound: Array32) -> Spool:
    spool = Spool(sound.shape[1])
    spool.add(sound[: len(sound) // 3])
    spool.add(sound[len(sound) // 3 :])
    return spool


def by_ffmpeg(path: Path) -> tuple[float, float]:
    """EBU R 128's meter: LUFS and dBTP."""
    command = ["ffmpeg", "-hide_banner", "-nostats", "-i", str(path)]
    command += ["-af", "ebur128=peak=true", "-f", "null", "-"]
    said = subprocess.run(command, capture_output=True, check=True).stderr.decode()
    summary = said[said.rindex("Summary:") :]
    loudness = re.search(r"I:\s+(-?[\d.]+) LUFS", summary)
    peak = re.search(r"Peak:\s+(-?[\d.]+) dBFS", summary)
    assert loudness and peak
    return float(loudness[1]), float(peak[1])


def claps(sound: Array32) -> Array32:
    """Short sharp peaks, as of a knock at the microphone."""
    sound = sound.copy()
    for at in range(RATE // 2, len(sound) - 200, RATE):
        sound[at : at + 60] += np.float32(0.9) * np.hanning(60)[:, None].astype(np.float32)
    return sound


def square() -> Array32:
    """A square wave: the worst for coding, which takes its upper partials and lets it overshoot."""
    time = np.arange(6 * RATE) / RATE
    wave = np.sign(np.sin(2 * np.pi * 311 * time)) * (time % 1 < 0.06)
    return (0.2 * wave[:, None]).astype(np.float32)


def hiss() -> Array32:
    """White noise and no more: coding takes some of its loudness with the highest treble."""
    random = np.random.default_rng(8)
    return (0.02 * random.standard_normal((6 * RATE, 1))).astype(np.float32)


class Enough(Exception):
    """Somebody wants the work to end."""


@pytest.mark.parametrize("after", [0, 3, 11])
def test_writing_a_track_ends_at_once_where_it_is_asked_to(after: int, tmp_path: Path) -> None:
    """In measuring, in coding and in listening to what was coded."""
    calls = 0

    def check() -> None:
        nonlocal calls
        calls += 1
        if calls > after:
            raise Enough

    with spooled(noise(20)) as spool:
        with pytest.raises(Enough):
            write_track(spool, RATE, tmp_path / "t.mp3", TrackTags("T"), check)
        assert calls == after + 1
        with pytest.raises(Enough):
            level(spool, RATE, check=check)


@pytest.mark.parametrize(
    "sound",
    [noise(6), noise(6, 2), claps(noise(6)), square(), np.float32(0.03) * noise(6), hiss()],
    ids=["one channel", "two channels", "knocks", "square wave", "very soft", "hiss"],
)
def test_finished_tracks_are_at_16_lufs_and_peak_under_1_after_coding(
    tmp_path: Path, sound: Array32
) -> None:
    with spooled(sound) as spool:
        said = write_track(spool, RATE, tmp_path / "t.mp3", TrackTags("T"))
    loudness, peak = by_ffmpeg(tmp_path / "t.mp3")
    assert loudness == pytest.approx(-16, abs=0.2)
    assert peak < -1
    assert said.loudness == pytest.approx(loudness, abs=0.2)
    ours = coded_levels(tmp_path / "t.mp3")
    assert ours.peak == pytest.approx(peak, abs=0.3)


def test_pieces_are_levelled_as_the_whole_is() -> None:
    sound = noise(20, 2)
    with spooled(sound) as spool:
        found = level(spool, RATE)
        made = np.concatenate(list(found.pieces(spool, RATE)))
    whole, levels = levelled(sound, RATE)
    assert np.allclose(made, whole, atol=1e-4)
    assert found.levels.peak == pytest.approx(levels.peak, abs=0.1)


def test_the_meter_hears_pieces_as_the_whole() -> None:
    sound = noise(7, 2)
    meter = LoudnessMeter(RATE)
    for k in range(0, len(sound), 12_345):
        meter.add(sound[k : k + 12_345])
    assert meter.loudness() == pytest.approx(integrated_loudness(sound, RATE), abs=0.005)


def test_silence_stays_silent(tmp_path: Path) -> None:
    with spooled(np.zeros((RATE, 1), np.float32)) as spool:
        write_track(spool, RATE, tmp_path / "t.mp3", TrackTags("T"))
    assert coded_levels(tmp_path / "t.mp3").peak < -90


def test_coding_in_pieces_gives_the_same_bytes(tmp_path: Path) -> None:
    sound = noise(9, 2)
    write_mp3(sound, RATE, tmp_path / "whole.mp3", TrackTags("T"))
    pieces = (sound[k : k + 10_007] for k in range(0, len(sound), 10_007))
    write_mp3_pieces(pieces, RATE, tmp_path / "pieces.mp3", TrackTags("T"))
    assert (tmp_path / "whole.mp3").read_bytes() == (tmp_path / "pieces.mp3").read_bytes()


@pytest.mark.parametrize("size", [1, 3, 700, 100_000])
def test_frames_are_counted_across_pieces_as_ffmpeg_finds_them(size: int, tmp_path: Path) -> None:
    path = tmp_path / "t.mp3"
    write_mp3(noise(1, 2), RATE, path, TrackTags("T"))
    with av.open(str(path)) as file:
        packets = [bytes(packet) for packet in file.demux(audio=0) if packet.size]
    coded = b"".join(packets)
    counter = FrameCounter(BIT_RATE, RATE)
    for k in range(0, len(coded), size):
        counter.add(coded[k : k + size])
    assert counter.frames == len(packets)
    assert counter.bytes == len(coded)
    assert counter.header == coded[:4]


def test_rumble_goes_and_the_lowest_reed_stays() -> None:
    """G2, 98 Hz, is the lowest reed of a low G harp; mains hum is at 50 Hz."""
    corner = corner_for(98.0)
    rumble = Rumble(RATE, corner)
    for hertz, least, most in (
        (30, -999, -80),
        (50, -999, -30),
        (98, -0.15, 0.01),
        (262, -0.01, 0.01),
    ):
        tone = np.sin(2 * np.pi * hertz * np.arange(3 * RATE) / RATE)[:, None].astype(np.float32)
        kept = np.abs(rumble.of_whole(tone)[RATE : 2 * RATE]).max()
        assert least < 20 * np.log10(kept) < most


def test_no_attack_moves_or_smears() -> None:
    """Zero phase: the answer to an impulse is symmetric around it."""
    impulse = np.zeros((RATE, 1), np.float32)
    impulse[RATE // 2] = 1
    answer = Rumble(RATE, 68.0).of_whole(impulse)[:, 0]
    assert np.argmax(answer) == RATE // 2
    assert np.allclose(answer[RATE // 2 + 1 :][:9000], answer[: RATE // 2][::-1][:9000], atol=1e-6)


def test_rumble_is_taken_out_of_pieces_as_of_the_whole() -> None:
    sound = noise(8, 2)
    rumble = Rumble(RATE, 80.0)
    whole = rumble.of_whole(sound)
    with spooled(sound) as spool:
        for first, last in ((0, 5000), (100_000, 250_001), (len(sound) - 777, len(sound))):
            assert np.allclose(rumble.without(spool, first, last), whole[first:last], atol=1e-5)


def test_the_corner_never_reaches_into_music() -> None:
    assert corner_for(262.0) == 120.0
    assert corner_for(None) < 60
    assert corner_for(98.0) == pytest.approx(68.6)


def test_a_spool_gives_back_what_was_put_in_and_silence_around_it() -> None:
    sound = noise(1, 2)
    with spooled(sound) as spool:
        assert len(spool) == len(sound)
        read = spool.read(-10, len(sound) + 10)
        assert np.array_equal(read[10:-10], sound)
        assert not read[:10].any() and not read[-10:].any()
        assert spool.read(5, 5).shape == (0, 2)


def test_a_folder_that_is_not_there_is_an_error_in_words(tmp_path: Path) -> None:
    with pytest.raises(ReedwrightError, match="cannot be written"):
        Spool(2, tmp_path / "no")
