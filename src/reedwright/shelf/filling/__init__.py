"""Taking tunes in: files, folders and zips, however many, with a report of what became of each.

`importing.import_tunes` does it; `report` tells of it.
"""
