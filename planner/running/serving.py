"""The web server of `start`: requests in threads of their own, all of which are ended before the program is."""

import socket
import threading
import time
from typing import Any

#: Requests that are being answered may go on for so long when the server is told to stop (s).
GRACE = 5.0


class Server:
    """Answers requests at a socket until it is stopped. Needs Django to be set up."""

    def __init__(self, listener: socket.socket) -> None:
        from django.core.wsgi import get_wsgi_application
        from waitress import create_server

        self._channels: dict[int, Any] = {}
        self._server: Any = create_server(
            get_wsgi_application(), map=self._channels, sockets=[listener], threads=8, ident="Notchbook"
        )
        self._thread = threading.Thread(target=self._server.run, name="server", daemon=True)
        self._thread.start()

    def is_alive(self) -> bool:
        """False once it stopped by itself."""
        return self._thread.is_alive()

    def stop(self, *, grace: float = GRACE) -> None:
        """Gives requests up to `grace` (s) to be answered, then closes every connection. Returns when the server has
        ended.
        """
        self._server.task_dispatcher.shutdown(timeout=grace)
        if self._thread.is_alive():
            # Closed in its own thread, for it may be waiting at just these sockets.
            self._server.trigger.pull_trigger(self._close)
            self._thread.join(grace)

    def _close(self) -> None:
        from waitress.wasyncore import close_all

        close_all(self._channels)


def others_end(seconds: float) -> bool:
    """Waits up to `seconds` for all other threads to end. Returns whether they have.

    The interpreter must not end while one is at work in a compiled library: that may crash the process.
    """
    until = time.monotonic() + seconds
    others = [one for one in threading.enumerate() if one is not threading.current_thread()]
    for one in others:
        one.join(max(0.0, until - time.monotonic()))
    return not any(one.is_alive() for one in others)
