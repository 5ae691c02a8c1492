"""The finished lesson: one tune, one folder, one zip.

`make_pack` takes an `Arrangement` and writes everything that a student can use
anywhere: the page as PDF, sound at speed and slowed down, MIDI, MusicXML, ABC,
tab in words, and a manifest of what is in it and how it was made.
"""
