"""Everyone can use it: no violation of the accessibility rules, and no mouse needed."""

import re
from pathlib import Path
from typing import Any

import pytest

from .conftest import Server
from .screen import Screen, until

AXE = Path(__file__).parents[2] / "web" / "node_modules" / "axe-core" / "axe.min.js"
WINDOWS = {
    "labels": "l",
    "quantities": "m",
    "keys": "?",
    "visit": "v",
    "export": "e",
    "scale": "k",
}


@pytest.fixture
def screen(page: Any, server: Server) -> Screen:
    return Screen(page, server)


def violations(page: Any) -> list[str]:
    """Return what axe-core finds; run by the browser itself, past the pages' own policy."""
    if not AXE.is_file():
        pytest.skip("no axe-core: `cd web && npm ci --ignore-scripts`")
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("axe.run()")["violations"]
    return [
        f"{one['id']}: {[node['html'][:120] for node in one['nodes'][:3]]}" for one in found
    ]


def test_the_list_of_studies(screen: Screen) -> None:
    screen.page.goto(screen.server.address)
    screen.page.get_by_role("link", name=re.compile("Thistle")).wait_for()
    assert violations(screen.page) == []


@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize("tab", ["Numbers", "Checks", "Findings"])
def test_the_desk(screen: Screen, theme: str, tab: str) -> None:
    screen.open("I0003.dcm")
    screen.choose("LVIDd")
    if theme == "light":
        screen.press("t")
    screen.page.get_by_role("tab", name=re.compile(tab)).click()
    assert violations(screen.page) == []


@pytest.mark.parametrize("key", WINDOWS.values(), ids=WINDOWS.keys())
def test_the_windows(screen: Screen, key: str) -> None:
    screen.open("I0003.dcm")
    screen.press(key)
    screen.page.get_by_role("dialog").wait_for()
    assert violations(screen.page) == []


def test_nothing_important_is_smaller_than_14_px(screen: Screen) -> None:
    screen.open("I0003.dcm")
    screen.choose("LVIDd")
    small = screen.page.evaluate(
        """() => [...document.querySelectorAll('body *')]
            .filter(one => [...one.childNodes].some(n => n.nodeType === 3 && n.data.trim()))
            .filter(one => parseFloat(getComputedStyle(one).fontSize) < 14)
            .map(one => one.outerHTML.slice(0, 100))"""
    )
    assert small == []


@pytest.mark.parametrize(("width", "height"), [(1280, 720), (1080, 810), (810, 1080)])
def test_nothing_reaches_past_the_window(screen: Screen, width: int, height: int) -> None:
    screen.page.set_viewport_size({"width": width, "height": height})
    screen.open("I0003.dcm")
    sizes = screen.page.evaluate(
        "() => [document.documentElement.scrollWidth, document.documentElement.scrollHeight]"
    )
    assert sizes == [width, height]
    box = screen.stage.bounding_box()
    assert box["width"] >= 400 and box["height"] >= 240, "the picture keeps most of the room"


def test_a_study_is_opened_and_judged_without_a_mouse(screen: Screen, server: Server) -> None:
    page = screen.page
    page.goto(server.address)
    page.get_by_role("link", name=re.compile("Thistle")).focus()
    screen.press("Enter")
    page.get_by_role("tab", name=re.compile("Numbers [0-9]+")).wait_for()
    screen.press("n", "n", "n")
    chosen = page.locator('button[aria-expanded="true"]')
    until(lambda: chosen.count() == 1)
    name = chosen.inner_text().split()[0].rstrip("•")
    screen.press("p", "ArrowDown", "Enter")
    until(lambda: [one["kind"] for one in server.edits()][-1:] == ["move"])
    screen.press("z")
    until(lambda: next(one["undone"] for one in server.edits()))
    until(lambda: page.get_by_role("button", name=re.compile("Undo")).is_disabled())
    screen.press("a")
    until(
        lambda: any(
            one["quantity"] == name and one["decision"]["state"] == "accepted"
            for one in server.ask()["reading"]["measurements"]
        )
    )
    screen.press("z", "q")
    page.get_by_role("link", name=re.compile("Thistle")).wait_for()
