"""What a person does on the desk, in a person's words."""

import re
import time
from collections.abc import Callable, Sequence
from typing import Any

from .conftest import Server

Point = Sequence[float]


class Screen:
    """The desk's page; points are in pixels of the stored frame."""

    def __init__(self, page: Any, server: Server) -> None:
        self.page = page
        self.server = server

    @property
    def stage(self) -> Any:
        return self.page.get_by_role("application").first

    def open(self, file: str | None = None) -> None:
        self.page.goto(f"{self.server.address}/#/study/{self.server.study}")
        self.page.get_by_role("tab", name=re.compile("Numbers [0-9]+")).wait_for()
        if file is not None:
            self.show(file)

    def show(self, file: str) -> None:
        images = self.page.get_by_role("navigation").get_by_role("button")
        images.filter(has_text=file).click()
        self.page.get_by_role("application", name=re.compile(file)).first.wait_for()
        self.page.locator('canvas[data-shown="true"]').first.wait_for()

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def at(self, point: Point) -> tuple[float, float]:
        """Return where a point of the image is in the window: pixel centres are integers."""
        box = self.stage.bounding_box()
        left, top, scale = map(float, self.canvas("data-view").split())
        x = box["x"] + left + (point[0] + 0.5) * scale
        return x, box["y"] + top + (point[1] + 0.5) * scale

    def canvas(self, name: str) -> str:
        return str(self.page.locator("canvas[data-view]").first.get_attribute(name))

    def frame(self) -> int:
        return int(self.canvas("data-frame"))

    def drag(self, start: Point, end: Point, *, drop: bool = True) -> None:
        self.page.mouse.move(*self.at(start))
        self.page.mouse.down()
        self.page.mouse.move(*self.at(end), steps=5)
        if drop:
            self.page.mouse.up()

    def click(self, point: Point) -> None:
        self.page.mouse.click(*self.at(point))

    def number(self, name: str) -> str:
        """Return what the row of a number says."""
        row = self.page.get_by_role("tabpanel").get_by_role(
            "button", name=re.compile(f" {name}")
        )
        return str(row.first.inner_text())

    def choose(self, name: str) -> None:
        row = self.page.get_by_role("tabpanel").get_by_role(
            "button", name=re.compile(f" {name}")
        )
        row.first.click()

    def touched(self) -> str:
        return str(self.page.get_by_role("region", name="What this touches").inner_text())


def until(is_so: Callable[[], Any], timeout_s: float = 15.0) -> Any:
    """Return what a condition gives once it gives something; fail when it never does."""
    end = time.monotonic() + timeout_s
    while time.monotonic() < end:
        found = is_so()
        if found:
            return found
        time.sleep(0.05)
    raise AssertionError("it did not come about in time")
