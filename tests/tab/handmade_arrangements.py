"""Arrangements made by hand from a line of tab, for tests that need no arranger.

`6b` hole 6 blow, `6d` draw, `3d''` bent, `6b°` overblown, `5b<` slide in; `:2` a length in
quavers (1 without it); `{7b}6b` a grace note; `5b-` tied on; `z` a rest; `?C#5` a note that the
harp lacks. Bars are parted by `|`; `|:` and `:|` repeat, `[1` and `[2` begin endings. Bar
numbers count from 1, or from 0 where the text begins with `~` (an upbeat).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction

from reedwright.harp.layout import note_name
from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Harp, Sounding, Technique
from reedwright.player.profile import Profile
from reedwright.tab.arrangement import Arrangement, MissingNote
from reedwright.tab.ornaments.model import Origin, Ornament, OrnamentKind, Outcome
from reedwright.tune.model import Bar, Grace, Key, Meter, Note, Pitch, Place, Rest, Tune, Voice

QUAVER = Fraction(1, 2)
PLACE = Place(1, 1)
_SIGN = re.compile(r"(\d+)([bd])('*)(°?)(<?)")
_NAME = re.compile(r"([A-G])([#b]*)(-?\d)")


def sounding_of(sign: str, harp: Harp) -> Sounding:
    match = _SIGN.fullmatch(sign)
    assert match is not None, sign
    hole, letter, primes, circle, slide = match.groups()
    for sounding in harp.soundings:
        over = sounding.technique in (Technique.OVERBLOW, Technique.OVERDRAW)
        if (
            sounding.hole == int(hole)
            and sounding.breath is (Breath.BLOW if letter == "b" else Breath.DRAW)
            and sounding.bend == len(primes)
            and over == bool(circle)
            and sounding.slide == bool(slide)
        ):
            return sounding
    raise AssertionError(f"{harp.name} has no {sign}")


def pitch_of(name: str) -> Pitch:
    match = _NAME.fullmatch(name)
    assert match is not None, name
    step, signs, octave = match.groups()
    return Pitch(step, signs.count("#") - signs.count("b"), int(octave))


def by_hand(
    text: str,
    harp: Harp | str = "C",
    key: Key | None = None,
    meter: Meter | None = None,
    title: str = "By Hand",
    kind: str = "",
) -> Arrangement:
    """The arrangement that the line of tab describes; ids are n1, n2 and g1, g2 in order."""
    instrument = make_harp(harp) if isinstance(harp, str) else harp
    soundings: dict[str, Sounding] = {}
    missing: list[MissingNote] = []
    bars: list[Bar] = []
    counter = {"n": 0, "g": 0, "r": 0}
    number = 0 if text.startswith("~") else 1

    def new_id(kind_of: str) -> str:
        counter[kind_of] += 1
        return f"{kind_of}{counter[kind_of]}"

    def pitch(sign: str) -> tuple[Pitch, Sounding | None]:
        if sign.startswith("?"):
            return pitch_of(sign[1:]), None
        sounding = sounding_of(sign, instrument)
        return pitch_of(note_name(sounding.midi, instrument)), sounding

    def keep(id_: str, sign: str) -> Pitch:
        spelled, sounding = pitch(sign)
        if sounding is None:
            advice = "A harp in D has it."
            missing.append(MissingNote(id_, spelled.name, number, Fraction(1), advice))
        else:
            soundings[id_] = sounding
        return spelled

    for written in re.split(r"\|(?!:)", text.lstrip("~").replace("|:", "| :: ")):
        if not written.strip():
            continue
        opens = "::" in written
        closes = written.rstrip().endswith(":") and not written.rstrip().endswith("::")
        ending = re.search(r"\[(\d)", written)
        words = re.sub(r"\[\d|::|\s:\s*$|:\s*$", " ", written).split()
        events: list[Note | Rest] = []
        for word in words:
            match = re.fullmatch(r"(\{.*\})?([^:]+?)(-?)(?::(\d+))?", word)
            assert match is not None, word
            graces_text, sign, tie, quavers = match.groups()
            length = QUAVER * int(quavers or 1)
            if sign == "z":
                events.append(Rest(new_id("r"), length, PLACE))
                continue
            graces = []
            for grace_sign in (graces_text or "{}")[1:-1].split(","):
                if grace_sign:
                    id_ = new_id("g")
                    graces.append(Grace(id_, keep(id_, grace_sign), QUAVER, PLACE))
            id_ = new_id("n")
            spelled = keep(id_, sign)
            tied = (bool(tie),)
            events.append(Note(id_, (spelled,), length, PLACE, tied, graces=tuple(graces)))
        bars.append(
            Bar(
                index=len(bars),
                number=number,
                events=tuple(events),
                key=key or Key(),
                meter=meter or Meter(),
                place=PLACE,
                repeat_open=opens,
                repeat_close=2 if closes else 0,
                ending=(int(ending[1]),) if ending else (),
            )
        )
        number += 1
    tune = Tune(
        number="1",
        titles=(title,),
        key=key or Key(),
        meter=meter or Meter(),
        voices=(Voice("1", tuple(bars)),),
        type=kind,
    )
    player = Profile("by-hand", "by hand")
    ornaments = tuple(
        _ornament(bar.number, note, soundings) for bar in bars for note in bar.notes if note.graces
    )
    return Arrangement(
        tune,
        instrument,
        player,
        soundings,
        tuple(missing),
        0.0,
        {},
        quarters_per_minute=120.0,
        ornaments=ornaments,
    )


def _ornament(bar: int, note: Note, soundings: Mapping[str, Sounding]) -> Ornament:
    """The grace notes of a note, as the tab says them."""
    main = soundings[note.id]
    touched = tuple(soundings[grace.id] for grace in note.graces if grace.id in soundings)
    step = touched[0].hole - main.hole if len(touched) == 1 else 0
    kind = {1: OrnamentKind.CUT, -1: OrnamentKind.TAP}.get(step, OrnamentKind.GRACES)
    names = tuple(grace.pitch.name for grace in note.graces)
    written, whole = Origin.WRITTEN, Outcome.AS_WRITTEN
    return Ornament(note.id, kind, written, whole, bar, main, touched, names)
