"""`tableside serve`: one address, one port, no waiting for acknowledgements."""

import socket

import pytest

from tableside.cli.serve import _in_url, _listen
from tableside.errors import InputError


def test_a_port_in_use_is_said() -> None:
    with _listen("127.0.0.1", 0) as first:
        port = first.getsockname()[1]
        with pytest.raises(InputError, match=f"port {port} is in use .* give --port 0"):
            _listen("127.0.0.1", port)


def test_its_socket_says_tcp_so_that_answers_go_out_at_once() -> None:
    """CPython's asyncio sets TCP_NODELAY only where ``sock.proto`` is IPPROTO_TCP."""
    with _listen("127.0.0.1", 0) as listener:
        client = socket.create_connection(listener.getsockname())
        accepted, _ = listener.accept()
        assert accepted.proto == socket.IPPROTO_TCP
        accepted.close()
        client.close()


def test_an_address_stands_in_a_link_as_it_must() -> None:
    assert (_in_url("127.0.0.1"), _in_url("::1")) == ("127.0.0.1", "[::1]")  # RFC 3986 3.2.2
