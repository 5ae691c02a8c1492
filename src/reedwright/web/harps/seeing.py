"""A tune on one harp of the table, with all that is chosen for it that fits there.

Public: `Seen`, `Ground`, `ground`, `seen`, `use`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from reedwright.harp.model import Harp
from reedwright.harp.position import position, position_name
from reedwright.harp.written import harp_text
from reedwright.page.content import signs_in_print
from reedwright.player.loading import load_profile
from reedwright.player.profile import Profile
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ChangedMeanwhile, Item
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.account import breath_account
from reedwright.tab.breath.words import breath_remarks
from reedwright.tab.choices.changing import with_weights
from reedwright.tab.choices.model import ChoicesError
from reedwright.tab.choices.resolving import FITS_AGAIN
from reedwright.tab.choices.session import USUAL_PLAYER, Session
from reedwright.tab.words import moved_words
from reedwright.web.harps.asked import pick_of, picked
from reedwright.web.harps.players import PlayerChoice, player_choices, player_of
from reedwright.web.music.opening import Looked
from reedwright.web.music.standing import Version, stand, version_between
from reedwright.web.music.stepping import CHANGED, keep_step
from reedwright.web.ownharps import own_harps

UNREADABLE = "The text has to be mended before a harp is chosen."


@dataclass(frozen=True, slots=True)
class Ground:
    """A tune with what the pages of harps need besides: owners' names and harps of the shelf, the
    players, the one that counts (`player`) and the voice, from 0. `session` is that of its choices,
    on their harp or the easiest."""

    item: Item
    looked: Looked
    session: Session
    states: Version
    owned: tuple[tuple[str, Harp], ...]
    players: tuple[PlayerChoice, ...]
    player: PlayerChoice
    voice: int

    @property
    def profile(self) -> Profile:
        """The player with the weights that the tune changes."""
        return with_weights(self.player.profile, self.session.choices)

    @property
    def semitones(self) -> int:
        return self.session.choices.semitones or 0

    @property
    def chosen(self) -> str:
        """The harp that the tune is on now, as addresses have it."""
        return pick_of(self.session.harp, self.session.choices.octaves or 0)

    @property
    def voices(self) -> int:
        return len(self.session.tune.voices)


def ground(shelf: Shelf, number: int, player: str = "", voice: int = 0) -> Ground:
    """`player` by its key, `voice` from 1; the tune's own where they are empty.

    Raises `NotOnShelf`, `ProfileError` and `ChoicesError` for a player or a voice that is not
    there, `ChoicesError` where nothing can be arranged.
    """
    with shelf.reading():
        standing = stand(shelf, number)
        owned = tuple((own.item.name, own.harp) for own in own_harps(shelf) if own.harp)
        players = player_choices(shelf)
    looked, session = standing.looked, standing.session
    if session is None or standing.stale:
        raise ChoicesError(standing.trouble or UNREADABLE)
    if voice:
        session = session.with_settings(voice=voice)
    own = session.choices.player or USUAL_PLAYER
    if own not in (each.key for each in players):  # named by the path of its file
        players = (*players, PlayerChoice(own, load_profile(own)))
    return Ground(
        item=looked.item,
        looked=looked,
        session=session,
        states=version_between(looked.item, looked.arrangement),
        owned=owned,
        players=players,
        player=player_of(players, player or own),
        voice=session.voice,
    )


@dataclass(frozen=True, slots=True)
class Seen:
    """`notices`: what was chosen by hand and does not fit this harp. `remarks`: on breath."""

    pick: str
    arrangement: Arrangement
    notices: tuple[str, ...]
    remarks: tuple[str, ...]
    air: float

    @property
    def name(self) -> str:
        return signs_in_print(self.arrangement.harp.name)

    @property
    def text(self) -> str:
        return harp_text(self.arrangement.harp)

    @property
    def moved(self) -> str:
        """How the tune is moved for it; empty where it is not."""
        if not self.arrangement.octaves and not self.arrangement.semitones:
            return ""
        return f"the tune {moved_words(self.arrangement.octaves, self.arrangement.semitones)}"

    @property
    def position(self) -> str:
        tonic = self.arrangement.tune.key.tonic_pitch_class
        return f"{position_name(position(tonic, self.arrangement.harp))} position"

    @property
    def missing(self) -> tuple[str, ...]:
        """`F♯5 in bar 3`."""
        return tuple(
            f"{signs_in_print(each.pitch)} in bar {each.bar}" for each in self.arrangement.missing
        )


def seen(on: Ground, pick: str = "") -> Seen:
    """The tune on that harp; empty: the one that it is on. Raises as `picked` and `arrange`."""
    harp, octaves = picked(pick or on.chosen)
    session = _on(on, harp, octaves)
    resolved = session.resolved()
    found = arrange(
        session.tune, harp, on.profile, on.voice, octaves, on.semitones, None, resolved.wishes
    )
    return Seen(
        pick=pick_of(harp, octaves),
        arrangement=found,
        notices=tuple(each for each in resolved.notices if FITS_AGAIN not in each),
        remarks=tuple(str(each) for each in breath_remarks(found)),
        air=breath_account(found).outside,
    )


def _on(on: Ground, harp: Harp, octaves: int) -> Session:
    settings = {"harp": harp_text(harp), "octaves": octaves or None}
    return on.session.with_settings(**settings)


def use(shelf: Shelf, on: Ground, pick: str, made_from: Version) -> None:
    """Keep that harp in the tune's choices, as a step that can be undone.

    With it go the player and the voice, where others than the tune's own were looked at; but for a
    player kept on the shelf, whom choices cannot name. Raises `ChangedMeanwhile` where the tune or
    its choices are no longer as they were looked at.
    """
    if on.states != made_from:
        raise ChangedMeanwhile(f"{CHANGED} Look at the harps again, and choose then.")
    harp, octaves = picked(pick)
    mine = Session(on.session.tune, on.looked.choices)
    after = mine.with_settings(harp=harp_text(harp), octaves=octaves or None)
    if on.voice != mine.voice:
        after = after.with_settings(voice=on.voice + 1)
    if not on.player.item and on.player.key != (mine.choices.player or USUAL_PLAYER):
        after = replace(after, choices=replace(after.choices, player=on.player.key))
    said = f"{harp.name} chosen" + (f", {moved_words(octaves, 0)}" if octaves else "")
    keep_step(shelf, on.looked, after.kept(), said)
