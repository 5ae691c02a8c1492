"""The person who plays: which techniques they have and what everything costs them.

A profile is a TOML file of named weights. One unit of effort is about what it
takes a learner to change breath on neighbouring quavers at a moderate tempo
(a documented assumption; people differ).
"""
