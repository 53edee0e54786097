"""Server-sent events (WHATWG HTML 9.2), over a real server: a test client waits for the end."""

import json
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import httpx2
import pytest
import uvicorn

from tableside.server.app import create_app
from tableside.server.settings import Settings


@pytest.fixture(scope="module")
def address(
    kept_demo: tuple[Path, str], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    kept, study = kept_demo
    data = tmp_path_factory.mktemp("news") / "data"
    shutil.copytree(kept, data)
    listener = socket.create_server(("127.0.0.1", 0))
    config = uvicorn.Config(
        create_app(Settings(data=data, keepalive_s=0.2)),
        log_level="warning",
        timeout_graceful_shutdown=1,
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
    thread.start()
    base = f"http://127.0.0.1:{listener.getsockname()[1]}/api/studies/{study}"
    for _ in range(600):
        try:
            if httpx2.get(base).json()["status"] == "ready":
                break
        except httpx2.TransportError:
            pass
        time.sleep(0.05)
    yield base
    server.should_exit = True
    thread.join(10)


def events(lines: Iterator[str], until: str) -> list[tuple[str, dict[str, object]]]:
    found: list[tuple[str, dict[str, object]]] = []
    kind = ""
    for line in lines:
        if line.startswith("event: "):
            kind = line.removeprefix("event: ")
        if line.startswith("data: "):
            found.append((kind, json.loads(line.removeprefix("data: "))))
            if kind == until:
                break
    return found


def grade(address: str, who: str, value: int) -> int:
    base = httpx2.get(address).json()["version"]
    body = {
        "base_version": base,
        "who": who,
        "kind": "visit",
        "payload": {"murmur_grade": value},
    }
    return int(httpx2.post(f"{address}/edits", json=body).json()["version"])


def test_a_page_hears_what_another_page_did(address: str) -> None:
    with httpx2.stream("GET", f"{address}/events") as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        lines = answer.iter_lines()
        assert events(lines, "reading")[-1][0] == "reading"
        version = grade(address, "ben", 3)
        assert events(lines, "edit")[-1] == (
            "edit",
            {"version": version, "kind": "visit", "who": "ben", "image": None},
        )


def test_a_page_that_lost_its_connection_hears_what_it_missed(address: str) -> None:
    first = grade(address, "ben", 4)
    second = grade(address, "ben", 5)
    headers = {"last-event-id": str(first - 1)}
    with httpx2.stream("GET", f"{address}/events", headers=headers) as answer:
        lines = answer.iter_lines()
        heard = [
            events(lines, "edit")[-1][1]["version"],
            events(lines, "edit")[-1][1]["version"],
        ]
    assert heard == [first, second]


def test_a_quiet_connection_shows_that_it_lives(address: str) -> None:
    with httpx2.stream("GET", f"{address}/events") as answer:
        assert any(line.startswith(": still here") for line in answer.iter_lines())
