"""What a MIDI file holds: notes by track and channel, and the signs of the conductor."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.fifths import mode_fifths, signature
from reedwright.tune.charsets import decoded_text
from reedwright.tune.model import Key, Meter, Tempo

MAX_BYTES = 8 * 1024 * 1024
"""A long piano concerto is some 200 kB."""
MAX_QUARTERS = 40_000
"""Quarter notes: more than five hours at 120 a minute."""
MAX_NOTES = 100_000
"""Some hundred times a long set of tunes."""
_DRUM_CHANNEL = 9  # channel 10 in print; General MIDI level 1
_MICROSECONDS_A_MINUTE = 60_000_000


class BadMidi(ReedwrightError):
    """The file is not MIDI that can be read as a tune."""


class MidiNote(NamedTuple):
    """A key pressed and let go, in ticks."""

    start: int
    end: int
    midi: int


@dataclass(slots=True)
class MidiVoice:
    """The notes of one track on one channel, by start and then pitch."""

    track: int
    channel: int
    name: str
    notes: list[MidiNote] = field(default_factory=list)

    @property
    def drums(self) -> bool:
        return self.channel == _DRUM_CHANNEL


@dataclass(slots=True)
class MidiContent:
    """All that is taken from a file. `meters`, `keys` and `lyrics` by their tick."""

    ticks_per_quarter: int
    title: str = ""
    voices: list[MidiVoice] = field(default_factory=list)
    meters: list[tuple[int, Meter]] = field(default_factory=list)
    keys: list[tuple[int, Key]] = field(default_factory=list)
    tempo: Tempo | None = None
    copyrights: list[str] = field(default_factory=list)
    lyrics: dict[int, str] = field(default_factory=dict)


def load_midi(path: Path, data: bytes | None = None) -> MidiContent:
    """Read a file, or `data` that was read elsewhere. Raises `BadMidi`."""
    import mido

    if data is None:
        try:
            with path.open("rb") as file:
                data = file.read(MAX_BYTES + 1)
        except OSError as error:
            raise BadMidi(f"{path}: this file can't be read ({error.strerror}).") from None
    if len(data) > MAX_BYTES:
        raise BadMidi(f"{path}: more than {MAX_BYTES // 2**20} MB is no tune; not read.")
    if not data:
        raise BadMidi(f"{path}: this file is empty.")
    try:
        file_ = mido.MidiFile(file=io.BytesIO(data), clip=True)
        if not 0 < file_.ticks_per_beat < 0x8000:
            raise BadMidi(
                f"{path}: its times are in film frames (SMPTE), not in beats; a tune needs beats. "
                "Export it again with ticks per quarter note."
            )
        content = _content(file_)
    except BadMidi:
        raise
    except EOFError:
        raise BadMidi(
            f"{path}: this MIDI file is damaged: it breaks off too early. Fetch or export it again."
        ) from None
    except Exception as error:  # what mido raises on broken bytes is not documented
        reason = str(error) or type(error).__name__
        raise BadMidi(
            f"{path}: this MIDI file is damaged ({reason}). Fetch or export it again."
        ) from None
    if not content.voices:
        raise BadMidi(f"{path}: there are no notes in this MIDI file.")
    if sum(len(voice.notes) for voice in content.voices) > MAX_NOTES:
        raise BadMidi(f"{path}: it holds more than {MAX_NOTES} notes; not read.")
    last = max(note.end for voice in content.voices for note in voice.notes)
    if last > MAX_QUARTERS * content.ticks_per_quarter:
        raise BadMidi(f"{path}: it lasts more than {MAX_QUARTERS} quarter notes; not read.")
    return content


def _content(file: Any) -> MidiContent:
    content = MidiContent(file.ticks_per_beat)
    for index, track in enumerate(file.tracks):
        _read_track(track, index, content)
    pitched = [voice for voice in content.voices if not voice.drums]
    content.voices = pitched or content.voices
    content.meters.sort(key=lambda entry: entry[0])
    content.keys.sort(key=lambda entry: entry[0])
    return content


def _read_track(track: Any, index: int, content: MidiContent) -> None:
    voices: dict[int, MidiVoice] = {}
    pressed: dict[tuple[int, int], list[int]] = {}
    name = ""
    now = 0
    for message in track:
        now += message.time
        if message.type == "note_on" and message.velocity > 0:
            pressed.setdefault((message.channel, message.note), []).append(now)
            voices.setdefault(message.channel, MidiVoice(index, message.channel, ""))
        elif message.type in ("note_on", "note_off"):
            starts = pressed.get((message.channel, message.note))
            if starts:
                start = starts.pop(0)
                voices[message.channel].notes.append(MidiNote(start, now, message.note))
        elif message.is_meta:
            if message.type == "track_name":
                name = name or _line(message.name)
            else:
                _read_meta(message, now, content)
    for (channel, midi), starts in pressed.items():  # never let go: they last to the end
        voices[channel].notes += [MidiNote(start, now, midi) for start in starts]
    if index == 0 or (not content.title and len(voices) == 1):
        content.title = content.title or name
    for voice in voices.values():
        voice.name = name
        voice.notes.sort()
        if voice.notes:
            content.voices.append(voice)


def _read_meta(message: Any, now: int, content: MidiContent) -> None:
    if message.type == "time_signature":
        if message.numerator > 0 and 1 <= message.denominator <= 64:
            content.meters.append((now, Meter((message.numerator,), message.denominator)))
    elif message.type == "key_signature":
        content.keys.append((now, _key(message.key)))
    elif message.type == "set_tempo":
        if content.tempo is None and message.tempo > 0:
            bpm = Fraction(_MICROSECONDS_A_MINUTE, message.tempo)
            content.tempo = Tempo(Fraction(1), Fraction(round(bpm * 100), 100))
    elif message.type == "copyright":
        content.copyrights.append(_line(message.text))
    elif message.type == "lyrics" and message.text.strip():
        content.lyrics.setdefault(now, _text(message.text))


def _text(latin: str) -> str:
    """Text that mido took for Latin-1. MIDI names no encoding; UTF-8 can be told by itself."""
    return decoded_text(latin.encode("latin-1", "replace"))


def _line(latin: str) -> str:
    return " ".join(_text(latin).split())


def _key(name: str) -> Key:
    """A key as mido names it: `F#m`, `Bb`."""
    mode = "minor" if name.endswith("m") else "major"
    alter = name.count("#") - name[1:].count("b")
    return Key(name[0], alter, mode, signature(mode_fifths(name[0], alter, mode)))
