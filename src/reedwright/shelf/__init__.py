"""The shelf: a library of tunes and of all that belongs to them, in one folder.

`keeping` holds it: one SQLite file, and beside it the files that are too large for it.
`facts` works out what is to be searched by, `filling` takes tunes in, `likenesses` says which are
settings of one another, `finding` searches, `safety` checks, backs up, exports and brings back.
Values that all of them share are in `model`. docs/shelf.md tells it to users.
"""
