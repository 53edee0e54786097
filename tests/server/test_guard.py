"""Pages of other sites in the same browser get nothing.

Sources: W3C Fetch Metadata (Sec-Fetch-Site), RFC 6454 (Origin), RFC 9110 15.5.20 (status 421).
"""

from pathlib import Path
from typing import Any

import pytest
from tests.server.conftest import DeskClient

from tableside.errors import InputError
from tableside.server import pages
from tableside.server.settings import require_loopback


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8400", "127.0.0.1.evil.example", ""]
)
def test_another_name_for_this_machine_is_refused(still_desk: DeskClient, host: str) -> None:
    answer = still_desk.http.get("/api/studies", headers={"host": host})
    assert answer.status_code == 421


@pytest.mark.parametrize("host", ["127.0.0.1:8400", "localhost:1", "LOCALHOST", "[::1]:8400"])
def test_the_names_of_this_machine_are_taken(still_desk: DeskClient, host: str) -> None:
    assert still_desk.http.get("/api/studies", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "https://127.0.0.1:8400"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_page_of_another_site_is_refused(
    still_desk: DeskClient, method: str, headers: dict[str, str]
) -> None:
    answer = still_desk.http.request(method, "/api/studies", headers=headers)
    assert answer.status_code == 403
    assert "access-control-allow-origin" not in answer.headers


def test_our_own_page_and_a_link_to_it_are_taken(still_desk: DeskClient) -> None:
    own = {"origin": "http://127.0.0.1:8400", "sec-fetch-site": "same-origin"}
    assert still_desk.http.get("/api/studies", headers=own).status_code == 200
    link = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    assert still_desk.http.get("/", headers=link).status_code in (200, 503)


def test_every_answer_keeps_pages_to_themselves(still_desk: DeskClient) -> None:
    for path in ("/", "/api/studies", "/api/nothing", "/assets/none.js"):
        headers = still_desk.http.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy and "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"


def test_patients_are_never_kept_by_the_browser(still_desk: DeskClient) -> None:
    answer = still_desk.http.get(f"/api/studies/{still_desk.study}")
    assert answer.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    "path", ["/../pyproject.toml", "/..%2f..%2fetc/passwd", "/%2e%2e/app.py", "//etc/passwd"]
)
def test_no_path_leads_out_of_the_pages(still_desk: DeskClient, path: str) -> None:
    answer = still_desk.http.get(path)
    assert answer.status_code in (404, 503)
    assert "root:" not in answer.text and "tableside" not in answer.text.replace(
        "reinstall-package tableside", ""
    ).replace("<title>tableside", "")


def test_too_much_is_refused_before_it_is_read(still_desk: DeskClient) -> None:
    path = f"/api/studies/{still_desk.study}/preview"
    answer = still_desk.http.post(path, content=b"x" * (2**20 + 1))
    assert answer.status_code == 413


def test_too_much_without_a_stated_length_is_refused_too(still_desk: DeskClient) -> None:
    def pieces() -> Any:
        for _ in range(40):
            yield b" " * 2**16

    path = f"/api/studies/{still_desk.study}/preview"
    answer = still_desk.http.post(
        path, content=pieces(), headers={"content-type": "application/json"}
    )
    assert answer.status_code == 413


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.7", "::", "example.org", ""])
def test_the_desk_listens_on_this_machine_alone(host: str) -> None:
    with pytest.raises(InputError, match="this machine alone"):
        require_loopback(host)


def test_missing_pages_say_how_to_get_them(
    still_desk: DeskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pages, "FOLDER", Path("nowhere"))
    answer = still_desk.http.get("/")
    assert answer.status_code == 503
    assert "uv sync --reinstall-package tableside" in answer.text
