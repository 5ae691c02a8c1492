"""Recordings: any file that a phone, a camera or a recorder makes, read as a stream.

`open_recording` looks a file over and gives a `Recording`; its sound comes in blocks, so
that an hour fits in bounded memory.
"""
