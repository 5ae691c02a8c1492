"""Ornaments in words for the student: each kind with its places and how it is made.

The advice is common practice of players, no source.

Public: `ornament_remarks`, `ornament_changes`, `suggestion_remark`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from reedwright.harp.layout import note_name
from reedwright.harp.model import Sounding
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.ornaments.model import Origin, Ornament, OrnamentKind, Outcome
from reedwright.tab.remark import Remark, bar_numbers, named
from reedwright.tab.words import bars_text, listed, pitch_words, short_words

# How each kind is made; kinds of one line are told of together.
_HOW: dict[tuple[OrnamentKind, ...], tuple[str, str]] = {
    (OrnamentKind.CUT,): (
        "Cuts",
        "Touch the next hole up for an instant in the same breath; move the harp, not the breath.",
    ),
    (OrnamentKind.TAP,): (
        "Taps",
        "Touch the hole below for an instant in the same breath.",
    ),
    (OrnamentKind.LONG_ROLL, OrnamentKind.SHORT_ROLL): (
        "Rolls",
        "Split the note by touching the other holes in turn for an instant, all in one breath; "
        "leave the roll plain until that is even.",
    ),
    (OrnamentKind.TRIPLET,): (
        "Triplets",
        "Tongue three quick notes where one stands, without moving the harp.",
    ),
    (OrnamentKind.SLIDE,): (
        "Slides",
        "Begin with the note bent and let it go; lean on the start and land in tune.",
    ),
    (OrnamentKind.WARBLE,): (
        "Warbles",
        "Shake evenly between the two holes in one breath, from the wrist or the head.",
    ),
    (OrnamentKind.GRACES,): (
        "Grace notes",
        "Slide over them quickly in the breath of the note that they lead to.",
    ),
}


def ornament_remarks(arrangement: Arrangement) -> list[Remark]:
    """One remark for each kind of ornament in the tab."""
    played = [each for each in arrangement.ornaments if each.outcome is not Outcome.LEFT_OUT]
    found = []
    for kinds, (title, how) in _HOW.items():
        mine = [each for each in played if each.kind in kinds]
        if mine:
            text = f"{title}: {named(_places(mine))}. {how}"
            found.append(Remark(title.lower(), text, _bars(mine)))
    return found


def ornament_changes(arrangement: Arrangement) -> list[Remark]:
    """What the harp has only with other notes, and what it has not at all."""
    return [*_changed(arrangement), *_left_out(arrangement)]


def suggestion_remark(arrangement: Arrangement) -> list[Remark]:
    """That ornaments were added, and how to use them."""
    added = [each for each in arrangement.ornaments if each.origin is Origin.SUGGESTED]
    if not added:
        return []
    text = (
        "Some ornaments are suggestions beyond what is written. Learn the tune plain first, then "
        "let in those that come easily."
    )
    return [Remark("suggested ornaments", text, _bars(added))]


def _places(ornaments: Sequence[Ornament]) -> list[str]:
    """`7 blow before 6 blow in bars 1 and 2`, grouped by the holes."""
    groups: dict[str, list[int]] = {}
    for each in ornaments:
        if each.main is not None:
            holes = _holes(each.kind, each.main, each.touched)
            groups.setdefault(holes, []).append(each.bar)
    return [f"{holes} in {bars_text(bars)}" for holes, bars in groups.items()]


def _holes(kind: OrnamentKind, main: Sounding, touched: tuple[Sounding, ...]) -> str:
    others = listed([short_words(each) for each in dict.fromkeys(touched)])
    if len(touched) == 2 and touched[0] == touched[1]:
        others += " twice"
    match kind:
        case OrnamentKind.TRIPLET:
            return short_words(main)
        case OrnamentKind.SLIDE:
            return f"{others} into {short_words(main)}"
        case OrnamentKind.WARBLE | OrnamentKind.LONG_ROLL | OrnamentKind.SHORT_ROLL:
            return f"{short_words(main)} with {others}"
        case _:
            return f"{others} before {short_words(main)}"


def _changed(arrangement: Arrangement) -> list[Remark]:
    """What the harp has only with other notes: what is written, and what the tab has instead."""
    changed = [each for each in arrangement.ornaments if each.outcome is Outcome.OTHER]
    if not changed:
        return []
    groups: dict[tuple[str, str], list[int]] = {}
    for each in changed:
        groups.setdefault((each.why, _instead(arrangement, each)), []).append(each.bar)
    names = [f"in {bars_text(bars)} {why}, so {instead}" for (why, instead), bars in groups.items()]
    text = f"Ornaments that differ from the written ones: {named(names)}."
    return [Remark("changed ornaments", text, _bars(changed))]


def _instead(arrangement: Arrangement, ornament: Ornament) -> str:
    holes = listed([short_words(each) for each in dict.fromkeys(ornament.touched)])
    if not ornament.written:
        return f"it is a {ornament.kind.value} with {holes}"
    names = list(dict.fromkeys(_name(arrangement, each) for each in ornament.touched))
    sound = "sounds" if len(names) == 1 else "sound"
    return f"the tab has {holes}, which {sound} {listed(names)}"


def _left_out(arrangement: Arrangement) -> list[Remark]:
    lost = [each for each in arrangement.ornaments if each.outcome is Outcome.LEFT_OUT]
    if not lost:
        return []
    groups: dict[tuple[OrnamentKind, str], list[int]] = {}
    for each in lost:
        groups.setdefault((each.kind, each.why), []).append(each.bar)
    names = [
        f"a {kind.value.removesuffix('s')} in {bars_text(bars)} ({why})"
        for (kind, why), bars in groups.items()
    ]
    text = f"Left out: {named(names)}."
    return [Remark("ornaments left out", text, _bars(lost))]


def _name(arrangement: Arrangement, sounding: Sounding) -> str:
    return pitch_words(note_name(sounding.midi, arrangement.harp))


def _bars(ornaments: Iterable[Ornament]) -> tuple[int, ...]:
    return bar_numbers(each.bar for each in ornaments)
