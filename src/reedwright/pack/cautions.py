"""The cautions that go with every lesson, and what is said of rights.

Common practice of teachers and of the trade, no source; local rules and a
doctor's or a lawyer's word come first, as the texts say.
"""

from __future__ import annotations

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


def rights_statement(rights: str | None) -> str:
    """The tune's own rights line, or that there is none and what to do."""
    return rights if rights else RIGHTS_NOT_STATED
