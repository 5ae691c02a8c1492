"""Takes that we did not voice: a General MIDI soundfont's harmonica, played by FluidSynth.

What is played is known to the millisecond, so pitch, onsets, alignment and reports can be
judged by it. Tempo, detuning, level, reverberation and pink noise are chosen by the caller.

Times are in seconds, pitches in (fractional) MIDI notes, sound is float32 of shape (frames,).
"""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
import wave
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import mido
import music21
import numpy as np
import numpy.typing as npt

from reedwright.sound.events import Timeline
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

RATE = 44_100
HARMONICA = 22  # General MIDI program 23, counted from 0
# A small General MIDI soundfont, as Linux distributions install it.
SOUNDFONT = Path("/usr/share/sounds/sf2/TimGM6mb.sf2")
LOWEST, HIGHEST = 48, 100  # MIDI notes that the offsets are measured for
_TICKS_PER_SECOND = 10_000  # MIDI time is exact to 0.1 ms
_BEND_RANGE = 2.0  # semitones of the pitch wheel, General MIDI's default
_TAIL = 1.5  # seconds for the room after the last note

Sound = npt.NDArray[np.float32]


class Played(NamedTuple):
    """A note that was asked for: from `start` to `end`, at `midi` (fractions are detuning).

    `id` is the written note's or grace note's where it comes from a tune.
    """

    start: float
    end: float
    midi: float
    id: str = ""
    is_grace: bool = False
    velocity: float = 0.7


class SoundedTake(NamedTuple):
    """The sound, its sample rate, and what was played."""

    sound: Sound
    rate: int
    notes: tuple[Played, ...]


def notes_of(timeline: Timeline) -> list[Played]:
    """What a timeline plays, as notes to be sounded by somebody else."""
    return [
        Played(
            note.span.start,
            note.span.end,
            float(note.midi),
            note.id,
            note.is_grace,
            0.4 + 0.5 * note.velocity,
        )
        for note in timeline.notes
    ]


def sounded(
    notes: Iterable[Played],
    *,
    cents: float = 0.0,
    level_db: float = -3.0,
    reverberation: float = 0.0,
    noise_db: float | None = None,
    seed: int = 1,
) -> SoundedTake:
    """Have notes played.

    `cents` detunes all of them; `level_db` is the peak of the whole in dBFS; `reverberation`
    is the level of FluidSynth's room, 0 to 1; `noise_db` is how many decibels pink noise
    lies under the playing (mean power while it sounds), None for none.
    """
    played = tuple(sorted(notes))
    sound = _by_fluidsynth(played, cents, reverberation, the_soundfont(), zone_offsets())
    sound *= np.float32(10 ** (level_db / 20) / max(float(np.abs(sound).max()), 1e-9))
    if noise_db is not None:
        power = _power_while_sounding(sound, played)
        noise = pink_noise(len(sound), seed)
        gain = np.sqrt(power * 10 ** (-noise_db / 10) / float(np.mean(noise**2)))
        sound = (sound + gain * noise).astype(np.float32)
        peak = float(np.abs(sound).max())
        if peak > 1:
            sound /= np.float32(peak)
    true = tuple(note._replace(midi=note.midi + cents / 100) for note in played)
    return SoundedTake(sound, RATE, true)


def the_soundfont() -> Path:
    """Tests fail without it."""
    if SOUNDFONT.exists() and shutil.which("fluidsynth"):
        return SOUNDFONT
    raise FileNotFoundError("no FluidSynth with a General MIDI soundfont: see tools/")


def pink_noise(frames: int, seed: int) -> Sound:
    """Noise whose power falls by 3 dB an octave, from 20 Hz up."""
    random = np.random.default_rng(seed)
    spectrum = np.fft.rfft(random.standard_normal(frames))
    hertz = np.fft.rfftfreq(frames, 1 / RATE)
    spectrum /= np.sqrt(np.maximum(hertz, 20.0))
    noise = np.fft.irfft(spectrum, frames)
    return (noise / np.abs(noise).max()).astype(np.float32)


def write_wav(path: Path, sound: Sound, rate: int = RATE) -> Path:
    """16 bits, one channel."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(np.rint(np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes())
    return path


def _power_while_sounding(sound: Sound, notes: Sequence[Played]) -> float:
    sounding = np.zeros(len(sound), dtype=bool)
    for note in notes:
        sounding[int(note.start * RATE) : int(note.end * RATE)] = True
    return float(np.mean(np.square(sound[sounding], dtype=np.float64)))


def _by_fluidsynth(
    notes: Sequence[Played],
    cents: float,
    reverberation: float,
    soundfont: Path,
    offsets: Mapping[int, float],
) -> Sound:
    with tempfile.TemporaryDirectory() as folder:
        midi, wav = Path(folder) / "take.mid", Path(folder) / "take.wav"
        _midi_file(notes, cents, offsets).save(midi)
        room = ["-o", f"synth.reverb.level={reverberation}", "-o", "synth.reverb.room-size=0.5"]
        command = ["fluidsynth", "-ni", "-q", "-r", str(RATE), "-C", "0"]
        command += ["-R", "1" if reverberation else "0", *room, "-g", "0.6", "-F", str(wav)]
        subprocess.run(
            [*command, str(soundfont), str(midi)],
            check=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        with wave.open(str(wav)) as file:
            pairs = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2")
    sound = pairs.reshape(-1, 2).astype(np.float32).mean(axis=1) / 32768
    last = int((max(note.end for note in notes) + _TAIL) * RATE)
    return np.pad(sound, (0, max(0, last - len(sound))))[:last].astype(np.float32)


def _midi_file(
    notes: Sequence[Played], cents: float, offsets: Mapping[int, float]
) -> mido.MidiFile:
    """Notes take turns on four channels, so that one's pitch wheel leaves the last's tail alone."""
    channels = (0, 1, 2, 3)
    events: list[tuple[float, int, mido.Message]] = []
    for channel in channels:
        events.append((0.0, 0, mido.Message("program_change", channel=channel, program=HARMONICA)))
        room = mido.Message("control_change", channel=channel, control=91, value=127)
        events.append((0.0, 1, room))
    for k, note in enumerate(notes):
        channel = channels[k % len(channels)]
        pitch = note.midi + cents / 100
        key = round(pitch)
        wheel = round((pitch - key - offsets.get(key, 0.0) / 100) / _BEND_RANGE * 8192)
        velocity = max(1, min(127, round(127 * note.velocity)))
        before = max(0.0, note.start - 0.0005)
        events.append((before, 2, mido.Message("pitchwheel", channel=channel, pitch=wheel)))
        on = mido.Message("note_on", channel=channel, note=key, velocity=velocity)
        off = mido.Message("note_off", channel=channel, note=key)
        events += [(note.start, 4, on), (note.end, 3, off)]
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("set_tempo", tempo=500_000))
    now = 0
    for time, _, message in sorted(events, key=lambda event: (event[0], event[1])):
        tick = round(time * _TICKS_PER_SECOND)
        track.append(message.copy(time=tick - now))
        now = tick
    file = mido.MidiFile(ticks_per_beat=_TICKS_PER_SECOND // 2)
    file.tracks.append(track)
    return file


@lru_cache(maxsize=1)
def zone_offsets() -> dict[int, float]:
    """How far the soundfont's harmonica lies off equal temperament, in cents by MIDI note.

    Its samples are up to 36 cents off; `sounded` takes that back, so that what was asked for
    is what sounds. Measured on one long tone each by its spectrum: the peak of the first
    partial under a Hann window of 2.7 s (bins of 0.34 Hz, the peak between them by a parabola
    through the logarithms), which shares nothing with the trackers under test.
    """
    step, settled = 3.6, 0.4
    keys = range(LOWEST, HIGHEST + 1)
    tones = [Played(k * step, k * step + 3.5, float(midi)) for k, midi in enumerate(keys)]
    whole = _by_fluidsynth(tones, 0.0, 0.0, the_soundfont(), {})
    found: dict[int, float] = {}
    for tone in tones:
        start = int((tone.start + settled) * RATE)
        sound = whole[start : start + int(3.0 * RATE)]
        spectrum = np.log(np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) + 1e-12)
        expected = 440 * 2 ** ((tone.midi - 69) / 12) * len(sound) / RATE
        low, high = int(expected * 0.97), int(expected * 1.03) + 2
        k = low + int(np.argmax(spectrum[low:high]))
        left, mid, right = spectrum[k - 1 : k + 2]
        peak = k + 0.5 * (left - right) / (left - 2 * mid + right)
        found[int(tone.midi)] = 1200 * float(np.log2(peak / expected))
    return found


class Speech(NamedTuple):
    """How a key of the soundfont's harmonica comes to its pitch.

    `speaks`: seconds from the MIDI onset until the sound has come to a tenth of its held
    amplitude. `cents`: how far it is off its held pitch then, each millisecond from the onset on.
    """

    speaks: float
    cents: npt.NDArray[np.float64]


_MILLISECOND = 0.001
_SPEECH_SECONDS = 0.25


@lru_cache(maxsize=1)
def zone_speech() -> dict[int, Speech]:
    """The first quarter of a second of every key: its samples begin up to 60 cents flat.

    Each key is played alone, dry; its first partial is cut out of the whole tone's spectrum, and
    the turning of that analytic signal's phase (Gabor 1946, Theory of communication), smoothed
    over 5 ms, is the pitch. It shares nothing with the trackers under test.
    """
    step, lead, half = 0.8, 0.1, 0.0025
    keys = range(LOWEST, HIGHEST + 1)
    tones = [Played(lead + k * step, k * step + 0.6, float(midi)) for k, midi in enumerate(keys)]
    whole = _by_fluidsynth(tones, 0.0, 0.0, the_soundfont(), zone_offsets())
    found: dict[int, Speech] = {}
    for tone in tones:
        begin = int((tone.start - lead) * RATE)
        sound = whole[begin : begin + int(step * RATE)].astype(np.float64)
        hertz = 440 * 2 ** ((tone.midi - 69) / 12)
        spectrum = np.fft.fft(sound)
        bins = np.fft.fftfreq(len(sound), 1 / RATE)
        spectrum[(bins < 0.6 * hertz) | (bins > 1.4 * hertz)] = 0
        first = np.fft.ifft(spectrum)
        size, phase = np.abs(first), np.unwrap(np.angle(first))
        held = np.median(size[int((lead + 0.25) * RATE) : int((lead + 0.45) * RATE)])
        over = np.flatnonzero(size[int(lead * RATE) :] > held / 10)
        speaks = int(over[0]) / RATE
        times = lead + np.arange(0, _SPEECH_SECONDS, _MILLISECOND)
        # The smoothing does not reach back to before the sound.
        left = np.maximum(times - half, lead + speaks) * RATE
        right = np.maximum(times + half, lead + speaks + 2 * half) * RATE
        turned = np.interp(right, np.arange(len(phase)), phase) - np.interp(
            left, np.arange(len(phase)), phase
        )
        pitch = turned / (right - left) * RATE / (2 * np.pi)
        found[int(tone.midi)] = Speech(speaks, 1200 * np.log2(np.maximum(pitch, 1.0) / hertz))
    return found


def sounded_pitch(
    notes: Sequence[Played], times: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    """Hz at `times` as the soundfont sounds the notes, each coming to its pitch, 0 for silence."""
    hertz = np.zeros(len(times))
    for note in notes:
        speech = zone_speech()[round(note.midi)]
        sounding = (times >= note.start + speech.speaks) & (times < note.end)
        since = ((times[sounding] - note.start) / _MILLISECOND).astype(int)
        off = speech.cents[np.minimum(since, len(speech.cents) - 1)]
        off = np.where(since < len(speech.cents), off, 0.0)
        hertz[sounding] = 440 * 2 ** ((note.midi - 69 + off / 100) / 12)
    return hertz


# Refused as it stands in the collection: its key is 'Bn'.
UNREADABLE = 745


@lru_cache(maxsize=1)
def _texts() -> tuple[str, ...]:
    """The tunes of the 1850 collection as music21 ships it, in ABC, but for the unreadable."""
    folder = Path(music21.__file__).parent / "corpus" / "oneills1850"
    found: list[str] = []
    for file in sorted(folder.glob("*.abc")):
        tunes = re.split(r"(?m)^(?=X:)", file.read_bytes().decode("latin-1"))[1:]
        found += [tune for tune in tunes if int(tune[2:].split()[0]) != UNREADABLE]
    return tuple(found)


def sampled_tunes(count: int, seed: int = 60) -> list[Tune]:
    """Tunes of the 1850 collection, chosen by lot but the same every time."""
    chosen = np.random.default_rng(seed).choice(len(_texts()), count, replace=False)
    tunes = [tune for k in sorted(chosen) for tune in read_abc(_texts()[k])]
    assert all(isinstance(tune, Tune) and len(tune.voices) == 1 for tune in tunes)
    return tunes
