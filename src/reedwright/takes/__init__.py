"""Takes: a player's own recording of a tune, followed, cut, checked and written down.

A take is heard (`sound.hearing`), followed along an arrangement (`following`), told about
(`report`), made into practice tracks (`practice`); a tune that nobody has written down is
noted from it (`transcribing`). Times are in seconds from the start of the recording.
"""
