"""Audio out: a tune with its tab becomes timed notes, a reed's voice, files that play anywhere.

`timing.plan` turns an arrangement into a `Timeline` (seconds), `voice.render` that into
sound, `rendering.render_track` makes a finished MP3 and `midi.write_midi` a MIDI file.
docs/sound.md explains how. Times are in seconds, frequencies in Hz, levels in dB; sound
is float32, shape (frames, 2), full scale 1.
"""
