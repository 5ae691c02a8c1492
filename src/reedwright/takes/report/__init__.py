"""The report on a take: what was played, told to the player calmly and exactly.

`judging` finds out, `model` holds what was found, `words`, `written` and `page` tell it.
"""
