"""A phone's calls over a real connection to a server on this machine."""

import http.client
from urllib.parse import urlsplit

from tests.sync.twin.call import Answer, Call
from tests.sync.twin.exchange import Talk

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
        body, headers = call.pack()
        try:
            self.connection = self.connection or http.client.HTTPConnection(
                self.host, timeout=TIMEOUT_S
            )
            path = f"{call.path}?{call.query}" if call.query else call.path
            self.connection.request(call.method, path, body or None, headers)
            response = self.connection.getresponse()
            return Answer(response.status, dict(response.getheaders()), response.read().decode())
        except (OSError, http.client.HTTPException):
            self.close()
            return None

    def close(self) -> None:
        if self.connection:
            self.connection.close()
            self.connection = None


def run_talk(talk: Talk, ask) -> dict:
    """An exchange to its end with nothing in its way."""
    answer = None
    while True:
        try:
            call = talk.send(answer)
        except StopIteration as end:
            return end.value
        answer = ask(call)
