"""Which practice tracks are made of a take, and what each plays when. No sound is touched.

Public: `planned`, `cautions_on`, `is_sure`.
"""

from __future__ import annotations

from dataclasses import dataclass

from reedwright.errors import ReedwrightError
from reedwright.sound.clock import Clock
from reedwright.sound.events import Click, TempoPoint
from reedwright.sound.excerpt import excerpt
from reedwright.sound.lilt import lilt_of
from reedwright.sound.metre import count_in
from reedwright.tab.words import bars_text, ordinal_word
from reedwright.takes.model import Following
from reedwright.takes.practice.bars import Stretch, chosen, parts_played
from reedwright.takes.practice.model import Cut, Track, TrackKind
from reedwright.takes.practice.settings import FULL_PERCENT, Loop, PracticeSettings
from reedwright.takes.practice.trimming import Trim
from reedwright.tune.unfold import unfold

LEAST_SURE = 0.5  # a following less sure than this is not cut by

PART_LEAD = 0.08  # seconds of the take before a part's first note
# A cut begins so long before its first note, so that an onset heard late is whole.
GUARD = 0.012  # seconds of the take
EARLIEST_GRACE = 0.1  # seconds: a cut before the beat belongs to its bar
LOOP_FADE, PART_FADE = 0.020, 0.040  # seconds of the track
LOOP_LEAD = 0.1  # seconds before the first click or note; as `sound.timing.LEAD`


@dataclass(frozen=True, slots=True)
class Names:
    """What files and titles are called after: the file name's stem and the tune's title."""

    file: str
    title: str


def is_sure(following: Following | None) -> bool:
    """Whether parts and bars can be cut by it."""
    return following is not None and following.sureness >= LEAST_SURE


def cautions_on(following: Following | None, settings: PracticeSettings) -> tuple[str, ...]:
    """What a user should be told of these tracks, in whole sentences; empty where all is well."""
    if following is None or is_sure(following):
        return ()
    left_out = " Parts and loops are not cut." if settings.asks_for_bars else ""
    return (
        f"The recording hardly fits {following.arrangement.tune.title!r} "
        f"(sureness {following.sureness:.2f} of 1): is it this tune, and is it the right file?"
        f"{left_out} The whole take is made all the same.",
    )


def planned(
    following: Following | None, trim: Trim, settings: PracticeSettings, names: Names, rate: int
) -> tuple[Track, ...]:
    """The tracks in the order in which to number them: whole, parts, loops.

    `rate`: every place is rounded to whole frames of the track. Raises `ReedwrightError` for
    parts and bars that are not there.
    """
    if following is None and settings.asks_for_bars:
        raise ReedwrightError(
            "Parts and bars are known only along a tune: name the tune, or ask for no parts and "
            "loops."
        )
    tracks = [_whole(trim, percent, names) for percent in settings.all_speeds]
    if following is not None and is_sure(following):
        if settings.parts:
            tracks += _parts(following, trim, settings, names)
        for loop in settings.loops:
            tracks += _loops(following, loop, settings, names, rate)
    return tuple(tracks)


def _whole(trim: Trim, percent: int, names: Names) -> Track:
    seconds = (trim.end - trim.start) * FULL_PERCENT / percent
    how = "at full tempo" if percent == FULL_PERCENT else f"at {percent} % of the tempo"
    return Track(
        TrackKind.WHOLE,
        f"{names.file}{_slower(percent)}.mp3",
        _title(names.title, percent),
        f"the recording {how}",
        percent,
        (Cut(trim.start, trim.end, 0.0),),
        seconds,
    )


def _slower(percent: int) -> str:
    """As in a pack: `-slow-55`, nothing for the full tempo."""
    if percent == FULL_PERCENT:
        return ""
    return f"-{'slow' if percent < FULL_PERCENT else 'fast'}-{percent}"


def _title(title: str, percent: int) -> str:
    return title if percent == FULL_PERCENT else f"{title} ({percent} %)"


def _parts(
    following: Following, trim: Trim, settings: PracticeSettings, names: Names
) -> list[Track]:
    stretches = parts_played(following)
    if not stretches:
        raise ReedwrightError(
            f"{names.title}: the take has no parts to cut by. Leave out parts, or name bars."
        )
    seen: dict[tuple[str, int], int] = {}
    found = []
    for k, stretch in enumerate(stretches):
        first = stretch.bars[0]
        key = (first.part, first.part_time)
        seen[key] = seen.get(key, 0) + 1  # a take that plays the whole tune twice
        start = max(trim.start, _begin(following, stretch) - PART_LEAD)
        is_last = k + 1 == len(stretches) and stretch.bars[-1] == following.bars[-1]
        end = trim.end if is_last else stretch.end - GUARD
        again = "" if seen[key] == 1 else f"-again-{seen[key]}"
        letter = first.part.casefold().replace("'", "-varied")
        words = f"part {first.part}, {ordinal_word(first.part_time)} time"
        for percent in settings.all_speeds:
            speed = percent / FULL_PERCENT
            found.append(
                Track(
                    TrackKind.PART,
                    f"{names.file}-part-{letter}-{first.part_time}{again}{_slower(percent)}.mp3",
                    _title(f"{names.title}, {words}", percent),
                    f"{words}, {_how(percent)}",
                    percent,
                    (Cut(start, end, PART_FADE),),
                    PART_FADE + (end - start) / speed,
                    PART_FADE,
                )
            )
    return found


def _how(percent: int) -> str:
    return "full tempo" if percent == FULL_PERCENT else f"{percent} % of the tempo"


def _begin(following: Following, stretch: Stretch) -> float:
    """When the first note sounds, with cuts before the beat."""
    graced = [note.start for note in stretch.notes(following)[:4]]
    return max(stretch.start - EARLIEST_GRACE, min([stretch.start, *graced]))


def _loops(
    following: Following, loop: Loop, settings: PracticeSettings, names: Names, rate: int
) -> list[Track]:
    stretch = chosen(following, loop)
    rounds = loop.rounds or settings.rounds
    clicks = _count_in(following, stretch) if settings.count_in else ()
    start = _begin(following, stretch) - GUARD
    bars = f"bar-{loop.first}" if loop.first == loop.last else f"bars-{loop.first}-{loop.last}"
    which = f"-time-{loop.time}" if loop.time else ""
    name = bars_text(bar.number for bar in stretch.bars)
    found = []
    for percent in loop.speeds or settings.all_speeds:
        speed = percent / FULL_PERCENT
        # A round lasts as long as its bars, to the frame, so that the beat goes on.
        frames = round((stretch.end - stretch.start) / speed * rate)
        before = (stretch.start - start) / speed
        lead = LOOP_LEAD + max([0.0, before, *(-click.time / speed for click in clicks)])
        first = round((lead - before) * rate)
        end = start + (stretch.end - stretch.start)
        cuts = tuple(Cut(start, end, (first + k * frames) / rate) for k in range(rounds))
        found.append(
            Track(
                TrackKind.LOOP,
                f"{names.file}-loop-{bars}{which}-at-{percent}.mp3",
                _title(f"{names.title}, {name}", percent),
                f"loop of {name}, {_how(percent)}",
                percent,
                cuts,
                (first + rounds * frames) / rate,
                LOOP_FADE,
                tuple(Click(lead + click.time / speed, click.strong) for click in clicks),
            )
        )
    return found


def _count_in(following: Following, stretch: Stretch) -> tuple[Click, ...]:
    """One bar of felt beats in the tempo of these bars, at full speed; 0 is their first beat."""
    arrangement = following.arrangement
    loop = excerpt(arrangement, stretch.bars[0].index, stretch.bars[0].index, 1)
    performance = unfold(loop.tune)
    tempo = 60 * stretch.quarters / (stretch.end - stretch.start)
    clock = Clock(performance, (TempoPoint(performance.bars[0].onset, tempo),), 1.0)
    return count_in(performance, lilt_of(arrangement.tune), clock)
