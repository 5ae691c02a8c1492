"""What a tune is searched by: worked out from its present state, and anew when that changes.

`model` has the values, `working_out` makes them of a tune, `keeping` puts them on the shelf and
brings up to date what is not; `grades` how hard tunes are for a player.
"""
