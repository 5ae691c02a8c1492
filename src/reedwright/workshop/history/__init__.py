"""What was measured of each harp, and when: one file a harp, to which measurements are added.

Start at `keeping` (`start_history`, `open_history`, `add_measurement`, `add_conversion`,
`add_note`, `histories`), then `comparing` (`compare`, `latest`) and `text`. The file's form is in
docs/harp-history.md.
"""
