"""What each thing that can happen in a take costs, so that the cheapest account of it is found.

Unit: a note that cannot be explained at all costs `OUTSIDE`; everything else is in proportion. They
were set by hand and then tried on tunes and seeds that the benchmark does not use.
"""

from __future__ import annotations

import numpy as np

# Pitch: what it costs to take a heard note for a written one, by the cents between them. A bend
# that did not reach (about 40 cents) is still its note; a wrong note is mostly a neighbour.
PITCH_CENTS = np.array([0, 45, 65, 90, 150, 250, 400, 700, 1200], dtype=np.float32)
PITCH_COSTS = np.array([0, 0.05, 0.5, 1.3, 1.6, 1.9, 2.3, 2.7, 3.0], dtype=np.float32)

# Time: the dearest misfit, and the misfit (natural logarithm of heard over expected) that costs
# half of it. `SLACK` seconds are always forgiven, about the length of a cut.
TIME_MOST = 1.5
TIME_HALF = 0.35
SLACK = 0.05
GRACE_SECONDS = 0.05  # from a cut to its note

# Written notes that are not heard.
MISSED = 1.7
MISSED_AGAIN = 0.45  # of the pitch of the note before: played without a new tongue
MISSED_GRACE = 0.15
MISSED_DROPPED = 0.1  # given up for a breath by the tab itself
MISSED_HELD = 0.0  # a tie holds it on this time: there is no beginning to hear
MOST_MISSED = 4  # notes one after another; more is a jump

# Heard notes that are not written.
ADDED = 1.4
ADDED_SAME = 0.4  # of the pitch of the note before: broken up
MOST_ADDED = 5  # one after another: the turns of a roll
SHORT = 0.2  # seconds: a shorter note counts for less

# A heard note outside the tune.
OUTSIDE = 0.8

# Where the tune is left and entered.
LEAVE_PART, LEAVE = 0.3, 2.0
ENTER_TUNE, ENTER_PART, ENTER_BAR, ENTER = 0.3, 0.5, 1.4, 2.2
OTHER_ROUND = 0.1  # from the end to the beginning
OTHER_PART = 1.0  # from the end of one part to the start of another that is not written next
WITHOUT_PICKUP = 0.2
BEGIN_WITHOUT_PICKUP = 0.9

# The tempo that a path carries: how many seconds of music it takes to half forget, and how
# far one note may move it (natural logarithm).
TEMPO_MEMORY = 1.2
TEMPO_STEP = 0.3
TEMPO_MISFIT, TEMPO_MISFIT_SHARE = 0.5, 0.2  # beyond this it is no tempo but a stop
