"""The `P:` field of the header: the order in which the parts are played (ABC 2.1, 3.1.9)."""

from __future__ import annotations

import re

LONGEST_ORDER = 1000  # parts played; more is a slip of the pen

_TOKEN = re.compile(r"\s*(?:([A-Za-z])|(\()|\)|(\d+)|[.,*+-])")


def read_part_order(text: str) -> tuple[str, ...] | None:
    """`A2(BC)3` played out: A A B C B C B C. None where it is no such text."""
    stack: list[list[str]] = [[]]
    last: list[str] | None = None  # what a number repeats
    position = 0
    text = text.strip()
    while position < len(text):
        token = _TOKEN.match(text, position)
        if token is None:
            return None
        position = token.end()
        if token[1]:
            last = [token[1]]
            stack[-1] += last
        elif token[2]:
            stack.append([])
            last = None
        elif token[3]:
            times = int(token[3]) if len(token[3]) <= len(str(LONGEST_ORDER)) else 0
            if last is None or times < 1:
                return None
            if len(last) * times + len(stack[-1]) > LONGEST_ORDER:
                return None
            stack[-1] += last * (times - 1)
            last = None
        elif token[0].strip() == ")":
            if len(stack) == 1:
                return None
            last = stack.pop()
            stack[-1] += last
            if len(stack[-1]) > LONGEST_ORDER:
                return None
        else:
            last = None
    if len(stack) != 1:
        return None
    return tuple(stack[0])
