"""The one family of errors that a user may see.

A message says what was wrong, where, and what to do. The command line prints
it and exits with status 1; nothing of this family ever shows a traceback.
"""


class ReedwrightError(Exception):
    """Something in the input or the request that the user can put right."""
