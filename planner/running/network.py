"""Addresses and ports of this machine."""

import socket
import sys

OWN_PORT = 8470
DEMO_PORT = 8471
THIS_MACHINE = "127.0.0.1"
EVERY_NETWORK = "0.0.0.0"


class PortError(Exception):
    """The port cannot be had; the message says why and what to type instead."""


def listen(host: str, port: int) -> socket.socket:
    """A socket that is bound and ours alone; port 0 takes any free one. Raises PortError."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform == "win32":
        # Without this another program could bind the same port and take the requests away.
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
    else:
        # Lets a start follow a stop at once; a port somebody listens on stays refused.
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
        listener.listen()
    except PermissionError:
        listener.close()
        raise PortError(f"Port {port} may not be used by ordinary programs. {_try_another(port)}") from None
    except OSError:
        listener.close()
        raise PortError(f"Port {port} is in use by another program. {_try_another(port)}") from None
    return listener


def lan_address() -> str | None:
    """This machine's address in its network, as phones there see it; None without a network."""
    # Connecting a datagram socket sends nothing; it only makes the system choose the way out.
    # The address belongs to a range kept free for documents (RFC 5737).
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            address: str = probe.getsockname()[0]
        except OSError:
            return None
    return None if address.startswith("127.") or address == EVERY_NETWORK else address


def _try_another(port: int) -> str:
    return f"Give another one:  python3 manage.py start --port {_free_port_after(port)}"


def _free_port_after(port: int) -> int:
    for candidate in range(max(port + 2, OWN_PORT), max(port + 2, OWN_PORT) + 50):
        if candidate > 65535:
            break
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
            try:
                probe.bind((THIS_MACHINE, candidate))
            except OSError:
                continue
        return candidate
    return OWN_PORT
