"""A tiny program in place of the real one: a script that answers with its version, or does not."""

import os
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from qcapp.release.package import pack_folder, sign_folder
from qcapp.release.place import ProgramPlace
from qcapp.release.signing import write_public

# It answers as qcapp/web/laptop/first.py does. {version}: what it says; {first}: lines before.
PROGRAM = """#!{python} -S
import http.server, json, os, sys
{first}
port = int(sys.argv[sys.argv.index("--port") + 1])
class Answer(http.server.BaseHTTPRequestHandler):
    def do_GET(self):
        self.send_response(200)
        self.end_headers()
        self.wfile.write(json.dumps({{"program": "qcapp", "version": "{version}"}}).encode())
    def log_message(self, *words):
        pass
with http.server.HTTPServer(("127.0.0.1", port), Answer) as server:
    server.serve_forever()
"""


def write_program(folder: Path, version: str, first: str = "") -> Path:
    """A built folder with the program and two files beside it."""
    folder.mkdir(parents=True)
    program = folder / "qcapp"
    program.write_text(PROGRAM.format(python=sys.executable, version=version, first=first))
    program.chmod(0o755)
    inside = folder / "_internal"
    inside.mkdir()
    (inside / "library.bin").write_bytes(os.urandom(5000))
    (inside / "words.txt").write_text(f"words of {version}\n")
    return program


@dataclass
class Publisher:
    """folder: where releases are made."""

    folder: Path
    key: Ed25519PrivateKey

    @property
    def public_path(self) -> Path:
        path = self.folder / "publisher.pem"
        path.write_bytes(write_public(self.key.public_key()))
        return path

    def publish(self, version: str, first: str = "", says: str | None = None) -> Path:
        """A release of this version; its program says another one where `says` is given."""
        built = self.folder / f"built-{version}-{len(list(self.folder.iterdir()))}"
        write_program(built, says or version, first)
        sign_folder(built, self.key, version=version, entry="qcapp")
        target = built.with_suffix(f"{built.suffix}.zip")
        pack_folder(built, target)
        return target


def make_publisher(folder: Path) -> Publisher:
    folder.mkdir()
    return Publisher(folder, Ed25519PrivateKey.generate())


def unzip_by_hand(root: Path, version: str, first: str = "") -> ProgramPlace:
    write_program(root, version, first)
    return ProgramPlace(root, "qcapp")


def rewrite_zip(source: Path, target: Path, change) -> Path:
    """A copy of a zip. change: (name, content) -> list of (name, content) in its place."""
    with zipfile.ZipFile(source) as before, zipfile.ZipFile(target, "w") as after:
        for one in before.infolist():
            for name, content in change(one.filename, before.read(one)):
                after.writestr(name, content)
    return target
