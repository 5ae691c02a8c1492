"""The finished lesson: one tune, one folder, one zip.

`lesson.make_pack` takes an `Arrangement` and writes everything that a student can use
anywhere: the page as PDF, sound at speed and slowed down, MIDI, MusicXML, ABC,
tab in words, and a manifest of what is in it and how it was made. `pages` and `tracks`
write them into a folder that is built aside (`reedwright.folders`), `cautions` are the
words on health and rights that go with every lesson. docs/formats.md has the shapes.
"""

from reedwright.pack.settings import PackSettings

__all__ = ["PackSettings"]
