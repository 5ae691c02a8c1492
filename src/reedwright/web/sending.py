"""Bytes sent as a file: to be kept, or to be looked at or heard; a part of them where one is asked.

Browsers ask for parts of a sound to play from there (RFC 9110, 14: one range of bytes, here).

Public: `sent`.
"""

from __future__ import annotations

import re
from urllib.parse import quote

from starlette.responses import Response

# What may be opened in the browser; nothing of these runs.
TYPES = {
    ".pdf": "application/pdf",
    ".txt": "text/plain; charset=utf-8",
    ".mp3": "audio/mpeg",
    ".wav": "audio/wav",
    ".png": "image/png",
}
# What is only ever laid down beside the user's own files.
KEPT_TYPES = {
    ".abc": "text/vnd.abc; charset=utf-8",
    ".json": "application/json",
    ".toml": "application/toml",
}
OTHER = "application/octet-stream"
_RANGE = re.compile(r"bytes=(\d{0,15})-(\d{0,15})$")


def sent(content: bytes, name: str, look: bool = False, wanted: str = "") -> Response:
    """`name`: as it is shown to the user (RFC 6266, RFC 8187). `look`: in the browser, where its
    kind allows that. `wanted`: the header `Range` of the browser."""
    ending = "." + name.rpartition(".")[2].lower()
    way = "inline" if look and ending in TYPES else "attachment"
    headers = {
        "content-disposition": f"{way}; filename*=utf-8''{quote(name, safe='')}",
        "accept-ranges": "bytes",
        "cache-control": "no-cache",
    }
    media_type = (TYPES | KEPT_TYPES).get(ending, OTHER)
    asked = _RANGE.match(wanted.strip())
    if not asked or not (asked[1] or asked[2]):
        return Response(content, media_type=media_type, headers=headers)
    size = len(content)
    if asked[1]:
        first, last = int(asked[1]), min(int(asked[2] or size), size - 1)
    else:
        first, last = max(0, size - int(asked[2])), size - 1
    if first > last:
        return Response(status_code=416, headers={"content-range": f"bytes */{size}"})
    headers["content-range"] = f"bytes {first}-{last}/{size}"
    return Response(content[first : last + 1], 206, headers, media_type)
