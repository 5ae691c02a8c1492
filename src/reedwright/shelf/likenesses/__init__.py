"""Settings of the same tune: recognised, offered, and never merged unasked.

The music is compared by `reedwright.tune.likeness.sameness`; here is what the shelf knows of it.
"""
