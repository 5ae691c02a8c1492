"""Finding tunes: by words, by what they are, by notes, by likeness.

`model` has what may be asked, `searching.search` answers it.
"""
