"""What each reed is to sound, exactly: temperament, reference pitch, playing pressure, stretch.

Start at `making` (from a harp and wishes to targets). `chords` finds what the reeds of a breath
are to each other; `temperaments`, `finding` and `reading` are the rules and the files of cents;
`beats` and `beating` tell how fast pairs beat and where to set a reed for it; `text` and `report`
show it.
"""
