"""Breath: a running account of the air that a tune takes, and where to breathe.

`model` holds the values; `airline` lays the tune out as the lungs meet it and `account` keeps the
running level. `places` says where a breath may be taken, `search` finds the cheapest set of
them and `plan` makes marks of it, also for slow practice; `marking` puts them into an
arrangement. `words` and `textplot` tell of it; `balance` lets the arranger trade effort for an
even breath. docs/breath.md explains with worked examples.
"""
