"""Browsers driven by the WebDriver standard: WebKit over HTTP, Gecko by the socket of its own
remote control (Marionette), which takes the same commands.

Each keeps its data in a folder, so that it can be killed and started again with the same data.
"""

import json
import os
import signal
import socket
import subprocess
import time
from pathlib import Path

import httpx

from tests.e2e.server import find_free_port
from tests.engines.programs import find_program

VIEW = Path(__file__).with_name("webkit_view.py")
START_S = 60
# The browser's own look-ups end at a closed port of this machine; pages of this machine do not
# pass the proxy.
GECKO_OPTIONS = ("--headless", "--marionette", "--no-remote")
GECKO_SETTINGS = {
    "marionette.port": 0,
    "toolkit.startup.max_resumed_crashes": -1,
    "browser.sessionstore.resume_from_crash": False,
    "network.proxy.type": 1,
    "network.proxy.http": "127.0.0.1",
    "network.proxy.http_port": 9,
    "network.proxy.ssl": "127.0.0.1",
    "network.proxy.ssl_port": 9,
}


class DriverError(Exception):
    """What the browser answers when a command cannot be done; `code` is the standard's."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(f"{code}: {message}")
        self.code = code


def wait_until(ask, what: str, seconds: float = START_S):
    """The first answer of `ask()` that is not empty; OSError counts as no answer yet."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            answer = ask()
        except (OSError, httpx.TransportError):
            answer = None
        if answer:
            return answer
        time.sleep(0.05)
    raise AssertionError(f"not within {seconds} s: {what}")


class Process:
    """A program with all that it starts, in a group of its own that is killed as one."""

    def __init__(self, command: list, log: Path, **environment: str) -> None:
        with log.open("ab") as output:
            self.popen = subprocess.Popen(
                [str(part) for part in command],
                env={**os.environ, **environment},
                stdout=output,
                stderr=output,
                start_new_session=True,
            )

    def kill(self) -> None:
        """Ends them at once, as a phone does; nothing can be put away any more."""
        os.killpg(self.popen.pid, signal.SIGKILL)
        self.popen.wait(20)


class Gecko:
    """Firefox without windows."""

    name = "Gecko"

    def __init__(self, folder: Path, _display: str) -> None:
        folder.mkdir(exist_ok=True)
        lines = [f"user_pref({json.dumps(k)}, {json.dumps(v)});" for k, v in GECKO_SETTINGS.items()]
        (folder / "user.js").write_text("\n".join(lines), encoding="utf-8")
        port_file = folder / "MarionetteActivePort"
        port_file.unlink(missing_ok=True)
        self.process = Process(
            [find_program("firefox-esr"), *GECKO_OPTIONS, "--profile", folder],
            folder / "browser.log",
            HOME=str(folder),
        )
        port = wait_until(lambda: port_file.exists() and port_file.read_text(), "its port")
        self.socket = wait_until(lambda: socket.create_connection(("127.0.0.1", int(port))), "it")
        self.socket.settimeout(START_S)
        self.stream = self.socket.makefile("rb")
        self.number = 0
        self._read()
        self.about = self._call("WebDriver:NewSession")["capabilities"]

    def _read(self):
        size = b""
        while (digit := self.stream.read(1)) != b":":
            if not digit:
                raise AssertionError("the browser ended")
            size += digit
        return json.loads(self.stream.read(int(size)))

    def _call(self, command: str, **params):
        self.number += 1
        sent = json.dumps([0, self.number, command, params]).encode()
        self.socket.sendall(b"%d:%s" % (len(sent), sent))
        _kind, _number, error, result = self._read()
        if error:
            raise DriverError(error["error"], error["message"])
        return result

    def go(self, url: str) -> None:
        self._call("WebDriver:Navigate", url=url)

    def execute(self, script: str, *args):
        """The value that the script hands to the function in its last argument."""
        return self._call("WebDriver:ExecuteAsyncScript", script=script, args=args)["value"]

    def click(self, element: str) -> None:
        self._call("WebDriver:ElementClick", id=element)

    def send_keys(self, element: str, text: str) -> None:
        self._call("WebDriver:ElementSendKeys", id=element, text=text)

    def kill(self) -> None:
        self.process.kill()
        self.stream.close()
        self.socket.close()


class WebKit:
    """A window of WebKitGTK on a display that nobody sees."""

    name = "WebKit"

    def __init__(self, folder: Path, display: str) -> None:
        folder.mkdir(exist_ok=True)
        port = find_free_port()
        self.process = Process(
            [find_program("WebKitWebDriver"), f"--port={port}"],
            folder / "browser.log",
            DISPLAY=display,
            HOME=str(folder),
        )
        self.client = httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=START_S)
        wait_until(lambda: self.client.get("/status").is_success, "WebKitWebDriver")
        options = {"binary": "/usr/bin/python3", "args": [str(VIEW), str(folder)]}
        wish = {"alwaysMatch": {"webkitgtk:browserOptions": options}}
        self.path = "/session"
        made = self._call("", capabilities=wish)
        self.path += f"/{made['sessionId']}"
        self.about = made["capabilities"]

    def _call(self, command: str, **params):
        answer = self.client.post(self.path + command, json=params).json()["value"]
        if isinstance(answer, dict) and "error" in answer:
            raise DriverError(answer["error"], answer["message"])
        return answer

    def go(self, url: str) -> None:
        self._call("/url", url=url)

    def execute(self, script: str, *args):
        """The value that the script hands to the function in its last argument."""
        return self._call("/execute/async", script=script, args=args)

    def click(self, element: str) -> None:
        self._call(f"/element/{element}/click")

    def send_keys(self, element: str, text: str) -> None:
        self._call(f"/element/{element}/value", text=text)

    def kill(self) -> None:
        self.process.kill()
        self.client.close()


ENGINES = {"gecko": Gecko, "webkit": WebKit}
