"""A book of tunes as a PDF for print and screen.

`model` has what a book is and how it is to look, `entries` engraves one tune for its place in it
(and what that gives can be kept and used again), `printing.book_pdf` makes the book of them all.
"""
