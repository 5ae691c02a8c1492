"""Paper: engraved music, harp charts, and the typeset lesson page.

`lesson` makes the page from an arrangement; `engraving` the systems of music in it, with
`breaking` (where systems end), `tabroom` and `systemsvg` (tab under the notes); `fitting`
how large they are; `content` the words; `press` the typesetting; `harpchart` and `raster` the
chart of a harp. docs/page.md tells more.
"""
