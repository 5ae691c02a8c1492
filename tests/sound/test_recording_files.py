"""Recordings of every kind are read whole, in time, and in bounded memory.

The reference is FFmpeg's own command, and the sound that the files were made from.
"""

from __future__ import annotations

import os
import subprocess
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from recorded_files import coded, decoded_by_ffmpeg, short_take, wav_of
from soundfont_takes import RATE, Sound

from reedwright.sound.recording.blocks import blocks, whole
from reedwright.sound.recording.model import Trouble, TroubleKind, UnreadableRecording
from reedwright.sound.recording.opening import open_recording
from reedwright.sound.recording.troubles import Watch

CODECS = {
    "flac": ("take.flac",),
    "mp3": ("take.mp3", "-b:a", "128k"),
    "mp3 of variable rate": ("take.mp3", "-q:a", "4"),
    "vorbis": ("take.ogg", "-c:a", "libvorbis"),
    "opus": ("take.opus", "-c:a", "libopus"),
    "opus in webm": ("take.webm", "-c:a", "libopus"),
    "aac": ("take.m4a", "-c:a", "aac"),
    "alac": ("take.m4a", "-c:a", "alac"),
    "aac in mov": ("take.mov", "-c:a", "aac"),
    "aac in 3gp": ("take.3gp", "-c:a", "aac"),
    "aac alone": ("take.aac", "-c:a", "aac"),
}
# What opus and AAC without a container do not say: where the sound begins and ends.
LOSSLESS = {"flac", "alac"}
FROM_RAW = ("ffmpeg", "-v", "error", "-y", "-f", "f32le", "-ar", "48000", "-ac", "1")


@pytest.fixture(scope="module")
def take() -> Sound:
    return short_take()


def lag(sound: Sound, original: Sound) -> int:
    """By how many samples `sound` is late, by the peak of their correlation."""
    size = 1 << (len(sound) + len(original)).bit_length()
    product = np.fft.rfft(sound, size) * np.conj(np.fft.rfft(original, size))
    place = int(np.argmax(np.fft.irfft(product, size)))
    return place if place < size // 2 else place - size


@pytest.mark.parametrize("codec", CODECS)
def test_each_codec_is_read_sample_for_sample_as_ffmpegs_command_reads_it(
    codec: str, take: Sound, tmp_path: Path
) -> None:
    path = coded(wav_of(tmp_path, take), *CODECS[codec])
    recording = open_recording(path)
    sound = whole(recording)
    reference = decoded_by_ffmpeg(path)
    assert 0 <= len(reference) - len(sound) <= 1024  # the padding of the last packet of an MP4
    np.testing.assert_allclose(sound, reference[: len(sound)], atol=1e-5)
    if codec in LOSSLESS:
        assert np.abs(sound[:, 0] - take).max() < 1e-4
    in_time = whole(recording, RATE)[:, 0]
    assert lag(in_time, take) == (1024 if codec == "aac alone" else 0)
    if codec != "aac alone":
        assert abs(len(in_time) - len(take)) <= 1
        assert recording.seconds == pytest.approx(len(take) / RATE, abs=0.03)
    # LAME takes 5 % off the level of what it codes (from memory; measured in docs/sound.md).
    assert np.std(in_time) == pytest.approx(
        float(np.std(take)), rel=0.06 if "mp3" in codec else 0.02
    )


@pytest.mark.parametrize(
    "sample", ["pcm_u8", "pcm_s16le", "pcm_s24le", "pcm_s32le", "pcm_f32le", "pcm_f64le"]
)
def test_wav_of_every_sample_size_keeps_its_level(sample: str, take: Sound, tmp_path: Path) -> None:
    path = coded(wav_of(tmp_path, take), "other.wav", "-c:a", sample)
    sound = whole(open_recording(path))[:, 0]
    assert len(sound) == len(take)
    assert np.abs(sound - take).max() < (0.01 if sample == "pcm_u8" else 1e-4)


@pytest.mark.parametrize("rate", [8_000, 22_050, 48_000, 96_000, 192_000])
def test_every_rate_comes_back_at_the_rate_asked_for(
    rate: int, take: Sound, tmp_path: Path
) -> None:
    path = coded(wav_of(tmp_path, take), "other.wav", "-ar", str(rate))
    recording = open_recording(path)
    assert recording.rate == rate
    sound = whole(recording, RATE)[:, 0]
    assert abs(len(sound) - len(take)) <= RATE // rate + 1
    assert lag(sound, take) == 0


def test_channels_are_kept_mixed_to_one_or_copied(take: Sound, tmp_path: Path) -> None:
    wav = wav_of(tmp_path, take)
    wide = coded(wav, "wide.wav", "-filter:a", "pan=5.1|FL=c0|FR=0.5*c0|FC=0*c0|LFE=0*c0")
    recording = open_recording(wide)
    assert recording.channels == 6
    sound = whole(recording)
    assert sound.shape == (len(take), 6)
    assert np.abs(sound[:, 0] - take).max() < 1e-4
    assert np.abs(whole(recording, channels=1)[:, 0] - take * 1.5 / 6).max() < 1e-4
    two = whole(recording, channels=2)
    assert two.shape == (len(take), 2)
    assert np.abs(two - take[:, None] * 1.5 / 6).max() < 1e-4
    double = whole(open_recording(wav), channels=2)
    assert double.shape == (len(take), 2)
    assert np.array_equal(double[:, 0], double[:, 1])


def test_sound_in_the_centre_alone_is_heard_on_both_sides(take: Sound, tmp_path: Path) -> None:
    wide = coded(wav_of(tmp_path, take), "wide.wav", "-filter:a", "pan=5.1|FC=c0")
    two = whole(open_recording(wide), channels=2)
    assert np.abs(two - take[:, None] / 6).max() < 1e-4


def test_amr_of_old_phones_is_read(take: Sound, tmp_path: Path) -> None:
    """FFmpeg's command here has no AMR coder; PyAV's library has one."""
    import av

    path = tmp_path / "memo.3gp"
    low = whole(open_recording(wav_of(tmp_path, take)), 8_000)[:, 0]
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libopencore_amrnb", rate=8_000, layout="mono")
        stream.bit_rate = 12_200
        packed = (low * 32767).astype(np.int16)[None, :]
        for k in range(0, packed.shape[1] - 160, 160):
            frame = av.AudioFrame.from_ndarray(packed[:, k : k + 160].copy(), "s16", "mono")
            frame.sample_rate, frame.pts = 8_000, k
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    recording = open_recording(path)
    assert recording.codec.startswith("amr")
    sound = whole(recording)[:, 0]
    assert abs(len(sound) - len(low)) <= 480
    assert abs(lag(sound, low)) <= 40  # the coder looks 5 ms ahead (3GPP TS 26.071)


def test_times_are_those_of_the_film_where_sound_begins_later(take: Sound, tmp_path: Path) -> None:
    path = coded(wav_of(tmp_path, take), "film.mp4", "-c:v", "mpeg4", "-c:a", "aac", film=0.5)
    recording = open_recording(path)
    sound = whole(recording)[:, 0]
    assert recording.sound_starts == pytest.approx(0.5, abs=0.03)
    assert lag(sound, take) == pytest.approx(0.5 * RATE, abs=45)  # an MP4 counts in ms
    assert not np.abs(sound[: int(0.45 * RATE)]).any()


def without_packets(path: Path, name: str, first: int, last: int) -> Path:
    """The file with some packets of its sound left out."""
    import av

    made = path.with_name(name)
    with av.open(str(path)) as source, av.open(str(made), "w") as target:
        stream = target.add_stream_from_template(source.streams.audio[0])
        for k, packet in enumerate(source.demux(source.streams.audio[0])):
            if packet.dts is not None and not first <= k < last:
                packet.stream = stream
                target.mux(packet)
    return made


def test_missing_packets_are_told_and_time_goes_on_rightly(take: Sound, tmp_path: Path) -> None:
    full = coded(wav_of(tmp_path, take), "take.webm", "-c:a", "libopus")
    holed = without_packets(full, "holed.webm", 50, 75)  # of 20 ms each
    troubles: list[Trouble] = []
    sound = whole(open_recording(holed), trouble=troubles.append)[:, 0]
    reference = whole(open_recording(full))[:, 0]
    assert len(sound) == len(reference)
    (told,) = troubles
    assert told.kind is TroubleKind.DAMAGE
    assert told.start == pytest.approx(1.0, abs=0.03) and told.end == pytest.approx(1.5, abs=0.03)
    assert "From 0:01.0 to 0:01.5" in told.message
    after = slice(int(1.6 * 48_000), None)  # the decoder needs a moment to settle
    assert np.corrcoef(sound[after], reference[after])[0, 1] > 0.999
    assert not sound[int(1.05 * 48_000) : int(1.45 * 48_000)].any()


@pytest.mark.parametrize("name", ["take.flac", "take.m4a", "take.mp3"])
def test_a_damaged_stretch_is_told_and_what_follows_is_in_its_place(
    name: str, take: Sound, tmp_path: Path
) -> None:
    path = coded(wav_of(tmp_path, take), name)
    data = bytearray(path.read_bytes())
    middle = len(data) // 2
    noise = np.random.default_rng(1).integers(0, 256, 3000, dtype=np.uint8)
    data[middle : middle + 3000] = noise.tobytes()
    path.write_bytes(data)
    watch = Watch(RATE)
    sound = whole(open_recording(path), watch=watch)[:, 0]
    told = [each for each in watch.troubles() if each.kind is TroubleKind.DAMAGE]
    assert told and 0.5 < told[0].start < 2.5
    assert len(told) <= 3
    # Notes are looked for in their places after the damage. The bytes of an MP3 say only about
    # how many packets are lost.
    off = lag(sound[int(2.4 * RATE) :], take[int(2.4 * RATE) :])
    assert abs(off) <= (1152 if name.endswith("mp3") else 1)


def test_a_single_wrong_bit_that_a_checksum_covers_is_silence_and_no_burst(
    take: Sound, tmp_path: Path
) -> None:
    path = coded(wav_of(tmp_path, take), "take.flac")
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 4
    path.write_bytes(data)
    troubles: list[Trouble] = []
    sound = whole(open_recording(path), trouble=troubles.append)[:, 0]
    assert len(troubles) == 1 and len(sound) == len(take)
    wrong = np.abs(sound - take) > 1e-4
    assert wrong.any() and not sound[wrong].any()


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("bare.mp3", ("-write_xing", "0", "-q:a", "2")),
        ("bare.aac", ("-c:a", "aac")),
        ("streamed.webm", ("-c:a", "libopus", "-live", "1")),
    ],
)
def test_a_duration_that_the_file_does_not_say_is_counted(
    name: str, options: tuple[str, ...], take: Sound, tmp_path: Path
) -> None:
    path = coded(wav_of(tmp_path, np.concatenate((take, 0.01 * take, take))), name, *options)
    recording = open_recording(path)
    assert recording.seconds_counted
    assert recording.seconds == pytest.approx(9.0, abs=0.12)


def test_changing_the_rate_folds_nothing_back_and_keeps_what_is_below(tmp_path: Path) -> None:
    """A tone 5 % above half the new rate must vanish, one at 0.85 of it must stay."""
    seconds = np.arange(2 * 48_000) / 48_000
    levels = {}
    for hertz in (440, 6_800, 8_400, 12_000):
        wav = tmp_path / "tone.wav"
        tone = (0.5 * np.sin(2 * np.pi * hertz * seconds)).astype(np.float32)
        tone.tofile(tmp_path / "tone.raw")
        subprocess.run(
            [*FROM_RAW, "-i", str(tmp_path / "tone.raw"), "-c:a", "pcm_f32le", str(wav)],
            check=True,
        )
        sound = whole(open_recording(wav), 16_000)[1_600:-1_600, 0]
        levels[hertz] = 20 * np.log10(np.sqrt(2 * np.mean(np.square(sound))) / 0.5 + 1e-9)
    assert levels[440] == pytest.approx(0, abs=0.01)
    assert levels[6_800] == pytest.approx(0, abs=0.3)
    assert levels[8_400] < -85 and levels[12_000] < -85


def test_a_stretch_is_the_same_as_that_part_of_the_whole(take: Sound, tmp_path: Path) -> None:
    recording = open_recording(coded(wav_of(tmp_path, take), "take.m4a", "-c:a", "aac"))
    for rate in (RATE, 16_000):
        part = whole(recording, rate, 1, start=0.7, end=1.9)
        everything = whole(recording, rate, 1)
        np.testing.assert_array_equal(part, everything[round(0.7 * rate) : round(1.9 * rate)])
    lengths = [len(block) for block in blocks(recording, seconds=0.5)]
    assert set(lengths[:-1]) == {RATE // 2} and sum(lengths) == len(take)


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="the system does not tell")
def test_closing_the_blocks_early_closes_the_file(take: Sound, tmp_path: Path) -> None:
    path = coded(wav_of(tmp_path, take), "take.flac")
    recording = open_recording(path)

    def is_open() -> bool:
        links = Path("/proc/self/fd").iterdir()
        return any(link.exists() and os.path.realpath(link) == str(path) for link in links)

    reading = blocks(recording, seconds=0.1)
    next(reading)
    assert is_open()
    reading.close()  # type: ignore[attr-defined]
    assert not is_open()


def test_memory_does_not_grow_with_the_recording(take: Sound, tmp_path: Path) -> None:
    peaks = []
    for minutes in (0.5, 2):
        path = coded(
            wav_of(tmp_path, take), f"{minutes}.flac", "-filter:a", "aloop=-1:size=132300",
            "-t", str(60 * minutes),
        )  # fmt: skip
        recording = open_recording(path)
        watch = Watch(recording.rate)
        tracemalloc.start()
        for _ in blocks(recording, 22_050, 1, watch=watch):
            pass
        watch.troubles()
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.3 * peaks[0]
    assert peaks[1] < 30e6


def refusal(path: Path) -> str:
    with pytest.raises(UnreadableRecording) as caught:
        list(blocks(open_recording(path)))
    assert str(path) in str(caught.value)
    return str(caught.value)


def test_what_is_no_recording_is_refused_in_one_clear_sentence(take: Sound, tmp_path: Path) -> None:
    assert "there is no such file" in refusal(tmp_path / "none.wav")
    assert "is a folder" in refusal(tmp_path)
    empty = tmp_path / "empty.wav"
    empty.touch()
    assert "is empty" in refusal(empty)
    for name in ("text.wav", "text.mp3", "text.m4a"):
        text = tmp_path / name
        text.write_text("X:1\nT:A tune\nK:G\nGABc d2|\n" * 200)
        assert "no recording that can be read" in refusal(text)
    playlist = tmp_path / "list.wav"
    playlist.write_text("#EXTM3U\n#EXTINF:3,\ntake.mp3\n#EXT-X-ENDLIST\n")
    assert "no recording that can be read" in refusal(playlist)
    wav = wav_of(tmp_path, take)
    silent = coded(wav, "mute.mp4", "-an", "-c:v", "mpeg4", film=0.0)
    assert "without sound" in refusal(silent)
    headless = tmp_path / "headless.m4a"
    headless.write_bytes(coded(wav, "take.m4a").read_bytes()[:3000])
    assert "no recording that can be read" in refusal(headless)
    cut = tmp_path / "cut.wav"
    cut.write_bytes(wav.read_bytes()[:44])
    assert "none of it can be decoded" in refusal(cut)
    os.mkfifo(tmp_path / "pipe.wav")
    assert "no ordinary file" in refusal(tmp_path / "pipe.wav")
    strange = tmp_path / "it's: 50 % ü.wav"
    strange.write_bytes(wav.read_bytes())
    assert len(whole(open_recording(strange))) == len(take)


@pytest.mark.skipif(os.geteuid() == 0, reason="everything is open to the superuser")
def test_a_file_closed_to_us_is_told_so(take: Sound, tmp_path: Path) -> None:
    path = wav_of(tmp_path, take)
    path.chmod(0)
    assert "no permission" in refusal(path)


def test_a_wav_that_breaks_off_is_read_up_to_there(take: Sound, tmp_path: Path) -> None:
    path = wav_of(tmp_path, take)
    path.write_bytes(path.read_bytes()[: 44 + 2 * RATE])
    sound = whole(open_recording(path))[:, 0]
    assert len(sound) == RATE
