"""A finger does what a mouse does."""

from collections.abc import Iterator, Sequence
from typing import Any

import pytest

from .conftest import Server
from .screen import Point, Screen, until

TABLET = {"width": 1080, "height": 810}


@pytest.fixture
def screen(browser: Any, server: Server) -> Iterator[Screen]:
    context = browser.new_context(viewport=TABLET, has_touch=True)
    opened = Screen(context.new_page(), server)
    yield opened
    context.close()


def touch(screen: Screen, *moments: Sequence[Point]) -> None:
    """Put fingers down where the first moment says, move them, lift them."""
    session = screen.page.context.new_cdp_session(screen.page)
    for number, fingers in enumerate(moments):
        points = [{"x": x, "y": y, "id": at} for at, (x, y) in enumerate(fingers)]
        kind = "touchStart" if number == 0 else "touchMove"
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def test_two_fingers_zoom(screen: Screen) -> None:
    screen.open("I0005.dcm")
    before = float(screen.canvas("data-view").split()[2])
    (ax, ay), (bx, by) = screen.at((250.0, 200.0)), screen.at((350.0, 200.0))
    wider = [((ax - step, ay), (bx + step, by)) for step in (0, 10, 30, 60)]
    touch(screen, *wider)
    now = until(lambda: float(screen.canvas("data-view").split()[2]))
    # The fingers went from 100 image pixels apart to 120 screen pixels more.
    assert now / before == pytest.approx((bx - ax + 120) / (bx - ax), rel=0.05)


def test_a_finger_drags_an_edge(screen: Screen, server: Server) -> None:
    screen.open("I0003.dcm")
    before = server.number("LVIDd")
    screen.choose("LVIDd")
    screen.page.get_by_role("button", name="Snap").click()
    x, y = screen.at(before["beats"][2]["points"][1])
    touch(screen, [(x, y)], [(x, y + 6)], [(x, y + 14)], [(x, y + 20)])
    moved = until(
        lambda: next((one for one in server.number("LVIDd")["beats"] if one["by_hand"]), None)
    )
    scale = float(screen.canvas("data-view").split()[2])
    # 20 screen pixels are so many rows, a row is so many centimetres (the file's calibration).
    gain_cm = 20 / scale * server.scale("I0003.dcm", 2)
    assert moved["value"] - before["beats"][2]["value"] == pytest.approx(gain_cm, abs=0.06)
    screen.press("z")
    until(lambda: server.number("LVIDd")["value"] == before["value"])
