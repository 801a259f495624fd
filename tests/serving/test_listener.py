"""The port is open before anything else happens, or refused in one line."""

import socket

import pytest

from oneonone.serving import listener


def test_an_open_port_lets_early_visitors_wait() -> None:
    with listener.listen("127.0.0.1", 0) as opened:
        port = listener.port_of(opened)
        socket.create_connection(("127.0.0.1", port), timeout=5).close()


def test_a_taken_port_is_named_with_the_way_out() -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        with pytest.raises(listener.PortRefused) as refusal:
            listener.listen("127.0.0.1", port)
    assert str(refusal.value) == (
        f"Port {port} on 127.0.0.1 is taken: stop what runs there, or choose another one with --port."
    )


@pytest.mark.parametrize("host", ["192.0.2.1", "no.such.host.invalid"])  # RFC 5737 and RFC 6761: never ours
def test_an_address_of_another_machine_is_refused(host: str) -> None:
    with pytest.raises(listener.PortRefused, match="no address of this machine"):
        listener.listen(host, 0)


@pytest.mark.parametrize(
    ("host", "loopback", "everywhere"),
    [
        ("127.0.0.1", True, False),
        ("localhost", True, False),
        ("::1", True, False),
        ("0.0.0.0", False, True),
        ("::", False, True),
        ("", False, True),
        ("192.0.2.1", False, False),
        ("oneonone.example.org", False, False),
    ],
)
def test_which_addresses_stay_on_this_machine(host: str, loopback: bool, everywhere: bool) -> None:
    assert (listener.is_loopback(host), listener.is_every_address(host)) == (loopback, everywhere)
