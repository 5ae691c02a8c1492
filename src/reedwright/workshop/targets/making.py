"""From a harp and what is wished to the target of every reed.

A reed's pitch is that of its note in equal temperament at the wished A4, moved by the cents of its
temperament and by the stretch: cents for each octave above the home note (and below it, down). At
the bench it is to sound sharper by the offset for pressure. Pairs that are to beat as chosen are
set last, in the order of the wishes, on what temperament and stretch have left. 1200 cents are an
octave, so a pitch that is c cents above f Hz is f times 2^(c/1200).

Public: `reed_targets`, `slide_in`.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from reedwright.harp.model import Breath, Harp, Reed
from reedwright.harp.naming import frequency
from reedwright.workshop.targets.checking import TargetError, check_wishes
from reedwright.workshop.targets.chords import BreathChord, breath_chord
from reedwright.workshop.targets.finding import find_reed_temperament
from reedwright.workshop.targets.model import ReedTarget, Targets, TargetWishes
from reedwright.workshop.targets.setting import with_wished_beats
from reedwright.workshop.targets.temperaments import pure_ratio, reed_cents

# The home note of the ordinary harp in C from which stretch is counted: blow 4 on Richter.
_MIDDLE_HOME = 72


def reed_targets(harp: Harp, wishes: TargetWishes | None = None) -> Targets:
    """The targets of all reeds of a harp, with the slide out; by hole, blow before draw.

    Without wishes: equal temperament at the harp's own A4. Raises `TargetError` for a pitch,
    pressure, stretch or beats that make no sense, `UnknownTemperament` or `TemperamentError`.
    """
    wishes = wishes or TargetWishes(a4=harp.a4)
    check_wishes(wishes)
    temperament = find_reed_temperament(wishes.temperament)
    tempered = reed_cents(temperament, harp)
    chords = {breath: breath_chord(harp, breath) for breath in Breath}
    home = _MIDDLE_HOME + harp.transpose
    found = []
    for hole in range(1, harp.tuning.holes + 1):
        for breath in Breath:
            reed, midi = Reed(hole, breath), harp.reed_midi(hole, breath)
            cents = tempered[reed] + wishes.stretch * (midi - home) / 12
            role = _in_words(chords[breath], midi, pure_ratio(temperament, harp, reed))
            found.append(_target(reed, midi, cents, wishes, role))
    return with_wished_beats(Targets(harp, wishes, tuple(found)), wishes.beats)


def slide_in(harp: Harp) -> Harp:
    """The harp that a slide harp is with its slide in: its other set of reeds, as a harp.

    Its home note is as much higher as the slide raises, so its reeds get the targets of the first
    set, that much higher. Raises `TargetError` for a harp without a slide.
    """
    tuning = harp.tuning
    if not tuning.slide:
        raise TargetError(f"the {harp.name} has no slide")
    rows = {
        breath: tuple(
            harp.reed_midi(hole, breath, slide=True) - harp.transpose - tuning.slide
            for hole in range(1, tuning.holes + 1)
        )
        for breath in Breath
    }
    pushed = replace(
        tuning,
        name=f"{tuning.name}-slide-in",
        title=f"{tuning.title}, slide in",
        blow=rows[Breath.BLOW],
        draw=rows[Breath.DRAW],
        slide=0,
        blow_slide=(),
        draw_slide=(),
    )
    return replace(harp, tuning=pushed, transpose=harp.transpose + tuning.slide)


def _target(
    reed: Reed, midi: int, cents: float, wishes: TargetWishes, role: str = ""
) -> ReedTarget:
    """A reed that is to sound `cents` above its note when played, with what follows from that."""
    bench = cents + wishes.pressure
    return ReedTarget(
        reed,
        midi,
        cents,
        frequency(midi + cents / 100, wishes.a4),
        bench,
        frequency(midi + bench / 100, wishes.a4),
        role,
    )


def _in_words(chord: BreathChord, midi: int, ratio: Fraction | None) -> str:
    """`major third of the blow chord, 5/4`."""
    words = f"{chord.role(midi)} of the {chord.breath.value} chord"
    return words if ratio is None else f"{words}, {ratio}"
