"""The book of many tunes: planned in a file, worked out on all cores, made anew only where changed.

`plan` reads the plan, `making.make_book` writes the PDF; `indexes` and `harps` hold what a reader
looks up; `stock` keeps what was engraved for the next time.
"""
