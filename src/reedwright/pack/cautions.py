"""The cautions that go with every lesson, and what is said of rights.

Common practice of teachers and of the trade, no source; local rules and a
doctor's or a lawyer's word come first, as the texts say.
"""

from __future__ import annotations

from collections.abc import Sequence

CAUTIONS = (
    "Stop and breathe normally when you feel light-headed. Anyone with heart, lung or ear "
    "trouble should ask a doctor before practising long.",
    "Keep the sound low enough to talk over, above all with earphones.",
    "Do not share a harp that has not been cleaned. Rinse your mouth before playing.",
)

RIGHTS_NOT_STATED = (
    "Rights were not stated. Before copying, sharing or selling this, find out who made the tune "
    "and this setting, and what the law allows where you are."
)

# Performers have rights of their own: Rome Convention (1961), article 7; WIPO Performances and
# Phonograms Treaty (1996), articles 5 to 10 (from memory).
TAKE_RIGHTS = (
    "The sound is a recording of somebody's playing, and whoever plays has rights in it, apart "
    "from those in the tune. Share or sell it only where you played it yourself, or where the "
    "player has agreed."
)

_MOST_TITLES = 5  # named in one sentence


def rights_not_stated(titles: Sequence[str]) -> str:
    """The same for the tunes of a batch, named as far as they are few."""
    if len(titles) == 1:
        return RIGHTS_NOT_STATED
    named = "; ".join(titles[:_MOST_TITLES])
    more = f" and {len(titles) - _MOST_TITLES} more" if len(titles) > _MOST_TITLES else ""
    return (
        f"Rights were not stated for {len(titles)} tunes: {named}{more}. Before copying, sharing "
        "or selling them, find out who made the tunes and these settings, and what the law "
        "allows where you are."
    )


def rights_statement(rights: str | None) -> str:
    """The tune's own rights line, or that there is none and what to do."""
    return rights if rights else RIGHTS_NOT_STATED
