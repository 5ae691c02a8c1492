"""Valves: which slot each covers, how large it is cut, and what it changes."""
