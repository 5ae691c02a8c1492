"""How hard an arrangement is for its player: one grade with its reasons, and the hardest bars.

What the grade means and why it moves the right way: docs/difficulty.md. `grade.difficulty` gives
the grade, `hardest.hardest_bars` the bars, `report` both in words and as JSON; `practice`
makes a plan of them.
"""
