"""`qcapp serve --lan` as a process on this machine's own addresses."""

import os
import ssl
import subprocess
import sys
import time
import urllib.error
import urllib.request
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from cryptography.hazmat.primitives.serialization import Encoding

from qcapp.lan.authority import make_authority, read_ranges
from qcapp.lan.folder import Lan, create_lan
from qcapp.lan.origin import Origin
from qcapp.store.engine import Store
from tests.builders import make_cookie
from tests.e2e.server import ROOT, find_free_port


@dataclass
class LanServer:
    lan: Lan
    folder: Path
    database_url: str
    process: subprocess.Popen | None = None

    @property
    def authority_path(self) -> Path:
        path = self.folder / "authority-only.pem"
        path.write_bytes(self.lan.authority.certificate.public_bytes(Encoding.PEM))
        return path

    def fetch(self, address: str, **more):
        """As a client that trusts the yard's authority and nothing else;
        redirects are not followed.
        """
        context = ssl.create_default_context(cafile=str(self.authority_path))
        opener = urllib.request.build_opener(urllib.request.HTTPSHandler(context=context), _Stay())
        return opener.open(urllib.request.Request(address, **more), timeout=5)

    def sign_in(self) -> dict[str, str]:
        """Headers of a yard lead's browser on a page of the app."""
        store = Store(self.database_url)
        cookie = make_cookie(store, now=datetime.now(UTC))
        store.close()
        return {"Cookie": f"__Host-qcapp={cookie}", "Origin": self.lan.origin.url}

    def launch(self) -> None:
        surroundings = {
            **os.environ,
            "PYTHONPATH": str(ROOT),
            "QCAPP_DATABASE_URL": self.database_url,
        }
        command = [
            sys.executable,
            "-m",
            "qcapp",
            "serve",
            "--lan",
            "--new",
            "--folder",
            str(self.lan.folder),
        ]
        with (self.folder / "server.log").open("ab") as output:
            self.process = subprocess.Popen(
                command, env=surroundings, stdout=output, stderr=output, cwd=self.folder
            )

    def start(self) -> None:
        """Returns when it answers; shows its log when it ends early."""
        self.launch()
        for _ in range(300):
            assert self.process.poll() is None, f"the server ended early:\n{self.read_log()}"
            try:
                self.fetch(f"{self.lan.origin.url}/api/sync/hello").read()
                return
            except OSError:
                time.sleep(0.1)
        raise AssertionError(f"the server did not answer:\n{self.read_log()}")

    def stop(self) -> None:
        if self.process:
            self.process.terminate()
            self.process.wait(20)
            self.process = None

    def read_log(self) -> str:
        return (self.folder / "server.log").read_text(encoding="utf-8")


class _Stay(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_what):
        return None


def make_server(folder: Path, host: str = "127.0.0.9") -> LanServer:
    now = datetime.now(UTC)
    authority = make_authority(ranges=read_ranges([], host), name="yard.lan", now=now)
    origin = Origin(host, find_free_port(), find_free_port())
    return LanServer(
        create_lan(folder / "lan", authority=authority, origin=origin, now=now),
        folder,
        f"sqlite:///{folder / 'yard.db'}",
    )
