"""By which names the server may be called.

A page of a stranger's can have its own name point to this machine, and would then be of one origin
with ours (DNS rebinding). So a request is answered only where its Host (RFC 9110, 7.2) is a name
that the server is known by: the loopback's, the one listened on, and those that the user gave.

Public: `KnownHosts`, `Place`, `place_of`.
"""

from __future__ import annotations

import ipaddress
import re
from typing import NamedTuple

from starlette.types import ASGIApp, Receive, Scope, Send

from reedwright.web.guard.answers import refuse
from reedwright.web.settings import Settings

LOOPBACKS = ("localhost", "127.0.0.1", "::1")
EVERYWHERE = ("0.0.0.0", "::")
_PLACE = re.compile(r"(\[[0-9a-f:.]+\]|[a-z0-9](?:[a-z0-9.-]*[a-z0-9])?)(?::(\d{1,5}))?")
_PORTS = {"http": 80, "https": 443}


class Place(NamedTuple):
    """A host without the brackets of IPv6, in small letters, and a port."""

    host: str
    port: int


def place_of(text: str, scheme: str = "http") -> Place | None:
    """What stands in a Host header, or in an Origin after its scheme; None for anything else."""
    found = _PLACE.fullmatch(text.lower())
    if found is None:
        return None
    port = int(found[2]) if found[2] else _PORTS.get(scheme, 0)
    host = found[1].strip("[]")
    if found[1].startswith("["):
        try:
            host = str(ipaddress.IPv6Address(host))
        except ValueError:
            return None
    return Place(host, port)


class KnownHosts:
    """Refuses requests and WebSockets whose Host is none of ours, or is not there, or is there
    twice: 421 (RFC 9110, 15.5.20)."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self._app = app
        self._port = settings.port
        self._names = {*LOOPBACKS}
        if settings.host not in EVERYWHERE:
            self._names.add(settings.host.lower())
        self._named = {
            place if ":" in name.rpartition("]")[2] else place._replace(port=settings.port)
            for name in settings.hosts
            if (place := place_of(name)) is not None
        }
        self._any_address = settings.host in EVERYWHERE

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan" or self._known(scope):
            await self._app(scope, receive, send)
            return
        await refuse(
            scope, receive, send, 421, "refused",
            "Reedwright does not answer to that name. Use the address that it told when it was "
            "started, or name this one with --name.",
        )  # fmt: skip

    def _known(self, scope: Scope) -> bool:
        hosts = [value for name, value in scope["headers"] if name == b"host"]
        if len(hosts) != 1:
            return False
        place = place_of(hosts[0].decode("latin-1"))
        if place is None:
            return False
        if place in self._named:
            return True
        if place.port != self._port:
            return False
        return place.host in self._names or (self._any_address and _is_address(place.host))


def _is_address(host: str) -> bool:
    """A number can't be made to point elsewhere, as a name can."""
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True
