"""Standard MIDI files read into a tune. Public: `read_midi`, `BadMidi`.

MIDI tells when a key goes down and up and no more: bars, note lengths, spelling and
what is melody are worked out here, and every guess is told among the tune's
problems. The bytes are read by mido.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from reedwright.tune.keyfinding import key_of_notes
from reedwright.tune.midi_in.barring import bars_of
from reedwright.tune.midi_in.events import BadMidi, MidiVoice, load_midi
from reedwright.tune.midi_in.quantising import Sound, quantised
from reedwright.tune.model import Field, Key, Place, Problem, Severity, Tune, Voice

__all__ = ["BadMidi", "read_midi"]

_START = Place(1, 1)
_ENOUGH_NOTES = 0.5
"""Share of the busiest voice's onsets that a voice needs to be taken as the melody (our choice)."""


def read_midi(path: Path, data: bytes | None = None) -> Tune:
    """The tune in a .mid, .midi or .kar file. `data`: what is in it, where that is known.

    Places tell the track (line) and the note's number in it (column), both from 1.
    Raises `BadMidi` where the file is broken, too big or without notes.
    """
    content = load_midi(path, data)
    problems: list[Problem] = []
    order = _melody_first(content.voices, problems)
    sounds = [quantised(voice.notes, content.ticks_per_quarter) for voice in order]
    key = content.keys[0][1] if content.keys else _estimated_key(sounds[0], problems)
    if not content.meters:
        _tell(problems, "the file has no time signature; it is barred in 4/4")
    if any(sound.moved for voice in sounds for sound in voice):
        _tell(problems, "notes were moved to the nearest semiquaver or triplet quaver")
    voices = tuple(
        Voice(
            str(number),
            bars_of(
                voice_sounds, content, key, voice.track + 1, "" if number == 1 else f"v{number}"
            ),
            voice.name,
        )
        for number, (voice, voice_sounds) in enumerate(zip(order, sounds, strict=True), start=1)
    )
    title = content.title or path.stem
    fields = [Field("T", title, _START)]
    fields += [Field("Z", f"abc-copyright {text}", _START) for text in content.copyrights]
    return Tune(
        number="1",
        titles=(title,),
        key=key,
        meter=voices[0].bars[0].meter,
        voices=voices,
        tempo=content.tempo,
        fields=tuple(fields),
        problems=tuple(problems),
        source=str(path),
    )


def _melody_first(voices: list[MidiVoice], problems: list[Problem]) -> list[MidiVoice]:
    """The likeliest melody first: the highest of the voices that have enough to play."""
    if len(voices) == 1:
        return voices
    onsets = [len({note.start for note in voice.notes}) for voice in voices]
    enough = [
        voice
        for voice, count in zip(voices, onsets, strict=True)
        if count >= _ENOUGH_NOTES * max(onsets) and not voice.drums
    ]
    melody = max(enough or voices, key=lambda v: sum(note.midi for note in v.notes) / len(v.notes))
    named = f" ({melody.name})" if melody.name else ""
    _tell(
        problems,
        f"the file has {len(voices)} voices; track {melody.track + 1}{named}, the highest of "
        "those with enough notes, is taken as the tune unless another is asked for",
        Severity.WARNING,
    )
    return [melody, *(voice for voice in voices if voice is not melody)]


def _estimated_key(sounds: list[Sound], problems: list[Problem]) -> Key:
    estimate = key_of_notes(
        ((midi, float(sound.length)) for sound in sounds for midi in sound.midis),
        sounds[-1].midis[-1],
    )
    if estimate is None:
        _tell(problems, "the file names no key and none could be estimated; C major is assumed")
        return replace(Key(), estimated=True)
    _tell(
        problems,
        f"the file names no key; {estimate.key.name} is estimated from its notes "
        f"(correlation {estimate.correlation:.2f}; next {estimate.runner_up.name}, "
        f"{estimate.runner_up_correlation:.2f})",
    )
    return estimate.key


def _tell(problems: list[Problem], message: str, severity: Severity = Severity.REPAIRED) -> None:
    problems.append(Problem(severity, message, _START))
