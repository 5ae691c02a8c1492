"""Breath: a running account of the air that a tune takes, and where to breathe.

`model` holds the values, `account` the running level, `places` where a breath may be taken, and
`plan` chooses them. docs/breath.md explains with worked examples.
"""
