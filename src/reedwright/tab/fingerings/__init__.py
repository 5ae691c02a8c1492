"""Other fingerings than the one taken: the best different ones, and why they were not taken.

`kbest` finds the k least answers of a problem, `different` those of a tune or a bar that are worth
choosing among, `why` the ways not taken in a bar and their price; `text` and `effortwords`
tell of them. docs/choices.md says how they are found.
"""
