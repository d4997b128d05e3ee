"""A phone's calls over a real connection to a server on this machine."""

import http.client
from urllib.parse import urlsplit

from tests.sync.simulation.call import Answer, Call

TIMEOUT_S = 60


class Wire:
    """One connection that is kept open and made anew after a failure."""

    def __init__(self, address: str) -> None:
        self.host = urlsplit(address).netloc
        self.connection: http.client.HTTPConnection | None = None

    def ask(self, call: Call) -> Answer | None:
        """None when no whole answer came.

        As a browser does, a kept connection that has gone is made anew once.
        """
        was_kept = self.connection is not None
        answer = self._ask_once(call)
        return self._ask_once(call) if answer is None and was_kept else answer

    def _ask_once(self, call: Call) -> Answer | None:
        try:
            self.connection = self.connection or http.client.HTTPConnection(
                self.host, timeout=TIMEOUT_S
            )
            path = f"{call.path}?{call.query}" if call.query else call.path
            self.connection.request(call.method, path, call.body or None, dict(call.headers))
            response = self.connection.getresponse()
            return Answer(response.status, dict(response.getheaders()), response.read().decode())
        except (OSError, http.client.HTTPException):
            self.close()
            return None

    def close(self) -> None:
        if self.connection:
            self.connection.close()
            self.connection = None
