"""Tunes played one after another: sets and evenings, and the harps that they need.

`model` has the values, `efforts` what each tune takes on each harp, `fewest` the fewest harps that
play a list, `ordering` tunes put into sets. docs/sets.md tells it to users.
"""
