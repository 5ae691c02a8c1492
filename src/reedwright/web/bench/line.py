"""The reed meter's line: a page sends its microphone's sound, readings go back.

First comes a text frame `{"begin": {"rate": 48000, ...}}` (`Begin`), then binary frames: one
channel of 32-bit floats, little-endian, full scale 1. Other text frames aim anew, keep what was
heard, forget it, or stop (`Said`). Back go `ready`, `reading` (null in silence), `tone`, `kept`,
`not_kept`, `wrong` and, before the line is ended for what was sent, `trouble`: docs/web-bench.md.

Sound is measured in threads of its own. A line that sends more than a microphone does, or what no
microphone gives, is ended with a word on why.

Public: `router`.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

import numpy as np
from fastapi import APIRouter, WebSocket, WebSocketDisconnect

from reedwright.errors import ReedwrightError
from reedwright.tab.words import with_article
from reedwright.web.bench.frames import (
    ENDED,
    LATER,
    NO_SENSE,
    NOT_ALLOWED,
    Keep,
    NotTaken,
    Said,
    said_in,
    sound_in,
)
from reedwright.web.bench.kept import with_entry
from reedwright.web.bench.meter import (
    Aim,
    Aimed,
    Meter,
    Reading,
    aim_of,
    measurement_of,
    what_words,
)
from reedwright.web.desk import AtDesk, Desk
from reedwright.web.ownharps import own_harp, same_reeds
from reedwright.workshop.history.keeping import add_measurement
from reedwright.workshop.measuring.another_harp import better_key
from reedwright.workshop.measuring.model import Measurement, Tone
from reedwright.workshop.measuring.partials import Array32

router = APIRouter(tags=["bench"])

MOST_LINES = 4  # at once; each may take half a core while two reeds sound
AHEAD = 4.0  # seconds of sound that may come at once, as after a hitch
MOST_FRAMES = 400  # a second
PATIENCE = 20.0  # seconds without a frame
BEHIND = 3.0  # seconds of sound that may wait to be measured
APART = 1 / 15  # seconds between readings

_Given = TypeVar("_Given")


class _Lines:
    """How many lines are open in this process."""

    def __init__(self) -> None:
        self.open = 0
        self.threads = ThreadPoolExecutor(MOST_LINES, "reed-meter")


_LINES = _Lines()


@router.websocket("/bench/listen/ws")
async def listen(socket: WebSocket, desk: AtDesk) -> None:
    await socket.accept()
    line = _Line(socket, desk)
    if _LINES.open >= MOST_LINES:
        await line.end(
            LATER, "Reeds are listened to on as many pages as this machine bears; close one."
        )
        return
    _LINES.open += 1
    try:
        await line.serve()
        await line.end(ENDED)
    except NotTaken as refused:
        await line.end(refused.code, refused.words)
    except WebSocketDisconnect:
        pass
    finally:
        _LINES.open -= 1


class _Line:
    """One page's line."""

    def __init__(self, socket: WebSocket, desk: Desk) -> None:
        self._socket, self._desk = socket, desk
        self._waiting: list[Array32] = []
        self._samples = 0  # in `_waiting`
        self._came, self._frames = 0, 0  # samples and frames since the beginning
        self._something = asyncio.Event()
        self._turn = asyncio.Lock()  # of the meter: one thread at a time
        self._voice = asyncio.Lock()  # of the socket
        self._keeping: Keep | None = None  # waits for the tone to end
        self._silent = True

    async def serve(self) -> None:
        """Until the page stops. Raises `NotTaken`, `WebSocketDisconnect`."""
        first = await self._hear()
        if not isinstance(first, Said) or first.begin is None:
            raise NotTaken(NO_SENSE, "The page has to say first what is listened for.")
        begin = first.begin
        aim = await self._aim(begin)
        if aim is None:
            raise NotTaken(NO_SENSE, "There is nothing to listen for: see what is wrong.")
        try:
            self._meter = await self._run(lambda: Meter(begin.rate, aim))
        except ReedwrightError as error:
            raise NotTaken(NO_SENSE, str(error)) from None
        self._began = asyncio.get_running_loop().time()
        await self._say(ready=_ready(aim))
        measuring = asyncio.create_task(self._measure())
        try:
            while True:
                hearing = asyncio.create_task(self._hear())
                await asyncio.wait({hearing, measuring}, return_when=asyncio.FIRST_COMPLETED)
                if measuring.done():
                    hearing.cancel()
                    measuring.result()
                heard = await hearing
                if isinstance(heard, Said):
                    if heard.stop:
                        await self._stopped()
                        return
                    await self._told(heard)
                else:
                    self._take(heard)
        finally:
            measuring.cancel()

    async def _hear(self) -> Said | Array32:
        """The next frame. Raises `NotTaken` for what makes no sense."""
        try:
            message = await asyncio.wait_for(self._socket.receive(), PATIENCE)
        except TimeoutError:
            raise NotTaken(ENDED, "Nothing was heard from the page for a while.") from None
        if message["type"] == "websocket.disconnect":
            raise WebSocketDisconnect(message.get("code", ENDED))
        text, sound = message.get("text"), message.get("bytes")
        if text is not None:
            return said_in(text)
        return sound_in(sound or b"")

    def _take(self, block: Array32) -> None:
        """Put sound in line to be measured. Raises `NotTaken` where it is too much."""
        self._came += len(block)
        self._frames += 1
        seconds = asyncio.get_running_loop().time() - self._began + AHEAD
        if self._came > 1.1 * seconds * self._meter.rate or self._frames > seconds * MOST_FRAMES:
            raise NotTaken(NOT_ALLOWED, "More sound comes than a microphone gives.")
        self._waiting.append(block)
        self._samples += len(block)
        self._something.set()

    async def _measure(self) -> None:
        """Measure what has come, again and again, and tell what it is."""
        loop = asyncio.get_running_loop()
        while True:
            await self._something.wait()
            self._something.clear()
            began = loop.time()
            async with self._turn:
                blocks, behind = self._waiting, self._samples > BEHIND * self._meter.rate
                self._waiting, self._samples = [], 0
                if behind:  # too slow a machine: what was missed must not pass for a change
                    self._meter.anew()
                    blocks = blocks[-1:]
                reading = await self._run(lambda: self._meter.take(np.concatenate(blocks)))  # noqa: B023
                ended, tones = list(self._meter.new), len(self._meter.tones)
            await self._tell(reading, ended, tones)
            took = loop.time() - began
            await asyncio.sleep(max(APART - took, took / 2))

    async def _tell(self, reading: Reading | None, ended: list[Tone], tones: int) -> None:
        if reading is not None or not self._silent:
            await self._say(reading=None if reading is None else reading.model_dump())
        self._silent = reading is None
        if ended:
            await self._say(tone={"count": tones, "words": self._words(ended)})
            if self._keeping is not None:
                keep, self._keeping = self._keeping, None
                await self._keep(keep)

    def _words(self, tones: list[Tone]) -> str:
        return what_words(measurement_of(tones, self._meter.aim))

    async def _told(self, said: Said) -> None:
        if said.begin is not None:
            raise NotTaken(NO_SENSE, "It has begun already.")
        if said.aim is not None:
            aim = await self._aim(said.aim)
            if aim is not None:
                async with self._turn:
                    self._meter.aim = aim
                await self._say(ready=_ready(aim))
        if said.forget:
            async with self._turn:
                self._meter.tones.clear()
            await self._say(tone={"count": 0, "words": ""})
        if said.keep is not None:
            if self._silent:
                await self._keep(said.keep)
            else:
                self._keeping = said.keep
                await self._say(waiting="It is kept when the reed falls silent.")

    async def _aim(self, asked: Aimed) -> Aim | None:
        """What is to be listened for; None, and the page is told, where something is wrong."""

        def found() -> tuple[Aim | None, dict[str, str]]:
            with self._desk.shelf() as shelf:
                return aim_of(shelf, asked)

        try:
            aim, wrong = await self._run(found)
        except ReedwrightError as error:
            aim, wrong = None, {"mine": str(error)}
        if wrong:
            await self._say(wrong=dict(wrong))
        return aim

    async def _stopped(self) -> None:
        async with self._turn:
            await self._run(self._meter.end)
            ended, tones = list(self._meter.new), len(self._meter.tones)
        await self._tell(None, ended, tones)
        if self._keeping is not None:
            await self._keep(self._keeping)

    async def _keep(self, keep: Keep) -> None:
        """Add what was heard to the harp's history, as its next state on the shelf."""
        async with self._turn:
            tones = list(self._meter.tones)
            tones = tones if keep.which == "all" else tones[-1:]
            try:
                kept = await self._run(lambda: self._kept(keep, tones))
            except ReedwrightError as error:
                await self._say(not_kept={"words": str(error)})
                return
            for _ in tones:  # what is kept once is not kept again with all others
                self._meter.tones.pop()
            kept["count"] = len(self._meter.tones)
        await self._say(kept=kept)

    def _kept(self, keep: Keep, tones: list[Tone]) -> dict[str, Any]:
        """In a thread of its own."""
        if not tones:
            raise ReedwrightError("No reed was heard yet that could be kept: sound one first.")
        measured = measurement_of(tones, self._meter.aim)
        what = what_words(measured)
        if not what:
            raise ReedwrightError(
                "Nothing was kept: what was heard is no reed of this harp. Say which reed it is, "
                "or choose the harp that it is of."
            )
        with self._desk.shelf() as shelf:
            _check_harp(measured, keep)
            with shelf.change():
                own = own_harp(shelf, keep.item)
                if own.harp is not None and not same_reeds(own.harp, measured.targets.harp):
                    raise ReedwrightError(
                        f"Nothing was kept: {own.item.name} is {with_article(own.harp.name)}, and "
                        f"{with_article(measured.targets.harp.name)} is listened for."
                    )
                after = with_entry(
                    shelf,
                    keep.item,
                    lambda history: add_measurement(history, measured, keep.when, keep.note),
                    f"measured {what}",
                )
        return {
            "item": keep.item,
            "name": after.item.name,
            "words": what,
            "state": after.item.state.number,
        }

    async def _run(self, work: Callable[[], _Given]) -> _Given:
        return await asyncio.get_running_loop().run_in_executor(_LINES.threads, work)

    async def _say(self, **what: Any) -> None:
        async with self._voice:
            await self._socket.send_json(what)

    async def end(self, code: int, words: str = "") -> None:
        try:
            if words:
                await self._say(trouble=words)
            await self._socket.close(code, words[:100])
        except (RuntimeError, WebSocketDisconnect):  # the page has gone meanwhile
            pass


def _ready(aim: Aim) -> dict[str, Any]:
    wishes = aim.targets.wishes
    return {
        "harp": aim.targets.harp.name,
        "holes": aim.targets.harp.tuning.holes,
        "hz": _aim_hz(aim),
        "tuned": f"{wishes.temperament}, A {wishes.a4:g}",
        "hole": aim.reed.hole if aim.reed else 0,
        "breath": aim.reed.breath.value if aim.reed else "",
    }


def _aim_hz(aim: Aim) -> float | None:
    """What the reed that is aimed at is to sound."""
    if aim.reed is None:
        return None
    target = aim.targets.of(aim.reed)
    return target.bench_hz if aim.at_bench else target.hz


def _check_harp(measured: Measurement, keep: Keep) -> None:
    other = None if keep.anyway else better_key(measured)
    if other is not None:
        raise ReedwrightError(
            f"Nothing was kept: it sounds like {with_article(other.name)}, not "
            f"{with_article(measured.targets.harp.name)}."
        )
