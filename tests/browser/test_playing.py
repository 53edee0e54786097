"""A clip plays at its stored times."""

import time
from typing import Any

import pytest

from .conftest import Server
from .screen import Screen, until


@pytest.fixture
def screen(page: Any, server: Server) -> Screen:
    return Screen(page, server)


def test_arrows_step_through_frames_and_around_the_end(screen: Screen) -> None:
    screen.open("I0005.dcm")
    assert screen.frame() == 0
    screen.press("ArrowRight", "ArrowRight")
    assert screen.frame() == 2
    screen.press("ArrowLeft", "ArrowLeft", "ArrowLeft")
    assert screen.frame() == 19


def test_it_plays_and_stops(screen: Screen) -> None:
    screen.open("I0005.dcm")
    screen.press("Space")
    seen = set()
    end = time.monotonic() + 3
    while time.monotonic() < end and len(seen) < 15:
        seen.add(screen.frame())
    assert len(seen) >= 15
    screen.press("Space")
    frame = screen.frame()
    time.sleep(0.3)
    assert screen.frame() == frame


def test_two_images_stand_side_by_side_at_the_same_point_of_the_beat(screen: Screen) -> None:
    screen.open("I0005.dcm")
    screen.press("b")
    shown = screen.page.locator("canvas[data-frame]")
    until(lambda: shown.count() == 2)
    screen.press("ArrowRight", "ArrowRight", "ArrowRight")
    until(lambda: [one.get_attribute("data-frame") for one in shown.all()] == ["3", "3"])


def test_the_wheel_zooms_to_the_pointer(screen: Screen) -> None:
    screen.open("I0005.dcm")
    point = (320.0, 200.0)
    before = screen.at(point)
    screen.page.mouse.move(*before)
    screen.page.mouse.wheel(0, -600)
    until(lambda: float(screen.canvas("data-view").split()[2]) > 1.5)
    # A mouse reports whole pixels of the screen; one of them becomes 2.6 here.
    assert screen.at(point) == pytest.approx(before, abs=2.6)
