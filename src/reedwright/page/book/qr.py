"""A QR code as a drawing (ISO/IEC 18004, made by segno).

Public: `qr_svg`.
"""

from __future__ import annotations

# Modules of quiet room on each side; ISO/IEC 18004 asks for four.
QUIET_ZONE = 4


def qr_svg(address: str) -> str:
    """The code of an address as an SVG document in black, one user unit to a module.

    Error correction M (about 15 % may be damaged, ISO/IEC 18004), and higher where that costs no
    more modules.
    """
    import segno

    code = segno.make(address, error="m", micro=False, boost_error=True)
    side = code.symbol_size(border=QUIET_ZONE)[0]
    path = "".join(
        f"M{column + QUIET_ZONE} {row + QUIET_ZONE}h{length}v1h-{length}z"
        for row, modules in enumerate(code.matrix)
        for column, length in _runs(modules)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" '
        f'width="{side}" height="{side}"><path d="{path}" fill="#000000"/></svg>'
    )


def _runs(modules: bytearray) -> list[tuple[int, int]]:
    """Where dark modules of a row begin, and how many follow one another."""
    runs: list[tuple[int, int]] = []
    for column, dark in enumerate(modules):
        if not dark:
            continue
        if runs and sum(runs[-1]) == column:
            runs[-1] = (runs[-1][0], runs[-1][1] + 1)
        else:
            runs.append((column, 1))
    return runs
