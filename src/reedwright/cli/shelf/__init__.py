"""`reedwright shelf`: the library of tunes, one file a few commands that belong together."""
