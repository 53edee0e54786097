"""`tableside serve`: the desk in the browser, on this machine alone."""

import socket
import webbrowser
from pathlib import Path
from threading import Timer

import typer
import uvicorn

from tableside.errors import InputError
from tableside.server.app import create_app
from tableside.server.pages import missing_pages
from tableside.server.settings import Settings, require_loopback

OPEN_AFTER_S = 0.7


def serve(
    data: Path, *, host: str, port: int, open_browser: bool, studies: tuple[Path, ...] = ()
) -> None:
    """Serve the desk until interrupted; put ``studies`` on it first."""
    address = require_loopback(host)
    listener = _listen(address, port)
    app = create_app(Settings(data=data))
    page = f"http://{_in_url(address)}:{listener.getsockname()[1]}/"
    for study in studies:
        page_of = app.state.desk.add_folder(study)
        page = f"{page.partition('#')[0]}#/study/{page_of}"
    missing = missing_pages()
    if missing is not None:
        typer.echo(missing, err=True)
    typer.echo(f"The desk is open at {page} (studies in {data}); Ctrl+C closes it.", err=True)
    if open_browser and missing is None:
        Timer(OPEN_AFTER_S, webbrowser.open, (page,)).start()
    config = uvicorn.Config(
        app,
        log_level="warning",
        timeout_graceful_shutdown=2,
        server_header=False,
        ws="none",
        proxy_headers=False,
    )
    uvicorn.Server(config).run(sockets=[listener])


def _listen(address: str, port: int) -> socket.socket:
    """Return a listening socket; port 0 is any free one.

    Its protocol is named, because asyncio sends answers at once only on sockets that say TCP:
    else each waits 40 ms for the browser to acknowledge its headers.
    """
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((address, port))
    except OSError as error:
        listener.close()
        raise InputError(
            f"port {port} is in use ({error.strerror}); close the other desk or give --port 0 "
            "for any free one"
        ) from error
    listener.listen(128)
    return listener


def _in_url(address: str) -> str:
    return f"[{address}]" if ":" in address else address
