"""What belongs to tunes and to their player: arrangements, profiles, harps, takes, packs, lessons,
lists. A file for each; `naming` finds an item by what a person calls it.

All are items of the shelf with their earlier states, written in the forms that they have as files
(an arrangement file, a profile, a harp's history), so that they go out as they came in.
"""
