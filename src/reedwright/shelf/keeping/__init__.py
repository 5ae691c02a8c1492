"""The shelf's file: opened and brought up to date, read, and changed whole or not at all.

Start at `opening.open_shelf`, which gives a `shelf.Shelf`. `attachments` holds the files beside it.
"""
