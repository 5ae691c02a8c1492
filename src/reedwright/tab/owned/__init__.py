"""The harps that a player owns: ranking among them, and what to buy or retune next.

`harps` works it out, `words` tells it. docs/players.md says what counts as better.
"""
