"""News of one study for all pages that watch it (server-sent events)."""

import asyncio
import json
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

MOST_WAITING = 1000  # a page that reads no news for so long starts anew


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One piece of news. ``id`` is the version of the log, for catching up."""

    kind: str
    data: dict[str, Any]
    id: int | None = None

    def encode(self) -> str:
        """Return the event as it goes over the wire (WHATWG HTML 9.2)."""
        number = "" if self.id is None else f"id: {self.id}\n"
        body = json.dumps(self.data, ensure_ascii=False)
        return f"{number}event: {self.kind}\ndata: {body}\n\n"


class News:
    """Hands events from any thread to the pages of one study."""

    def __init__(self) -> None:
        self._watchers: set[tuple[asyncio.AbstractEventLoop, asyncio.Queue[Event | None]]] = (
            set()
        )

    def tell(self, event: Event) -> None:
        """Give an event to everyone; from any thread."""
        for loop, queue in tuple(self._watchers):
            try:
                loop.call_soon_threadsafe(_put, queue, event)
            except RuntimeError:  # the loop has ended, and the page with it
                self._watchers.discard((loop, queue))

    @contextmanager
    def watched(self) -> Iterator["asyncio.Queue[Event | None]"]:
        """Give a queue that receives all news while the block runs."""
        queue: asyncio.Queue[Event | None] = asyncio.Queue(MOST_WAITING)
        entry = (asyncio.get_running_loop(), queue)
        self._watchers.add(entry)
        try:
            yield queue
        finally:
            self._watchers.discard(entry)


def _put(queue: "asyncio.Queue[Event | None]", event: Event) -> None:
    if queue.full():
        while not queue.empty():
            queue.get_nowait()
        queue.put_nowait(None)
        return
    queue.put_nowait(event)


async def stream(
    queue: "asyncio.Queue[Event | None]", first: list[Event], keepalive_s: float
) -> AsyncIterator[str]:
    """Yield what was missed, then news as it comes, then a sign of life where there is none."""
    for missed in first:
        yield missed.encode()
    while True:
        try:
            async with asyncio.timeout(keepalive_s):
                event = await queue.get()
        except TimeoutError:
            yield ": still here\n\n"
            continue
        if event is None:
            return  # too far behind: the page connects again and catches up by its last id
        yield event.encode()
