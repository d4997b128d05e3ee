"""A throw-away PostgreSQL for tests: its own folder and unix socket, no port, ended with the tests.

Its usual sorting order is that of a language (ICU, English), as on most servers, so that a query
that rests on the order of bytes without saying so is found.
"""

import functools
import itertools
import os
import shutil
import subprocess
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import quote

import psycopg
import pytest
from sqlalchemy import create_engine, make_url
from sqlmodel import SQLModel

from qcapp.store.engine import Store
from tests.compiled import share_compiled
from tests.programs import find_postgresql

OLDEST = 15
# PostgreSQL does not start as root; these are on every Debian.
OTHER_USERS = ("postgres", "nobody")
SETTINGS = {
    "listen_addresses": "",
    "fsync": "off",
    "full_page_writes": "off",
    "synchronous_commit": "off",
    "max_connections": "60",
    "shared_buffers": "32MB",
    "log_min_messages": "fatal",
}


class Databases:
    """Empty ones for the builders.

    Making one takes longer than a test, so they are emptied and used again.
    """

    def __init__(self, cluster: "Cluster") -> None:
        self.cluster, self.free, self.used = cluster, [], []
        self.names: dict[Path, str] = {}
        self.stores: dict[str, list[Store]] = {}

    def make_url(self, path: Path | None) -> str:
        """The same path is the same database, as with files; none is an empty one each time."""
        if path in self.names:
            return self.names[path]
        url = self.free.pop() if self.free else self.cluster.create_database()
        self.used.append(url)
        if path is not None:
            self.names[path] = url
        return url

    def open_store(self, url: str) -> Store:
        store = Store(url)
        share_compiled(store, self.first)
        self.stores.setdefault(url, []).append(store)
        return store

    @functools.cached_property
    def first(self) -> Store:
        """Connected once, so that its dialect knows the server."""
        store = Store(self.cluster.address("postgres"))
        store.engine.connect().close()
        return store

    def give_back(self, but: int) -> None:
        """Empties all but the first ones; nobody uses the others any more."""
        while len(self.used) > but:
            url = self.used.pop()
            for store in self.stores.pop(url, []):
                store.close()
            _empty(url)
            self.names = {path: name for path, name in self.names.items() if name != url}
            self.free.append(url)


def _empty(url: str) -> None:
    # Row by row: with a few rows this is ten times faster than TRUNCATE.
    clear = ";".join(
        f'DELETE FROM "{table.name}"' for table in reversed(SQLModel.metadata.sorted_tables)
    )
    restart = "SELECT setval(seqrelid::regclass, 1, false) FROM pg_sequence"
    # Straight to the driver: this is done after each test.
    address = make_url(url).set(drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(address, autocommit=True) as connection:
        if connection.execute("SELECT to_regclass('log')").fetchone()[0]:
            connection.execute(f"{clear};{restart}")


@dataclass
class Cluster:
    folder: Path
    process: subprocess.Popen
    numbers: itertools.count = field(default_factory=itertools.count)

    def __post_init__(self) -> None:
        self.databases = Databases(self)

    def create_database(self) -> str:
        """The address of a new, empty database."""
        name = f"yard{next(self.numbers)}"
        self.run(f"CREATE DATABASE {name}")
        return self.address(name)

    def address(self, name: str) -> str:
        return f"postgresql+psycopg://yard@/{name}?host={quote(str(self.folder))}"

    def run(self, statement: str) -> None:
        """As the cluster's owner, outside every transaction."""
        engine = create_engine(self.address("postgres"), isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            connection.exec_driver_sql(statement)
        engine.dispose()

    def drop(self, url: str) -> None:
        self.run(f"DROP DATABASE IF EXISTS {make_url(url).database} WITH (FORCE)")

    def stop(self) -> None:
        # SIGQUIT: without writing out what is thrown away at once.
        self.databases.first.close()
        self.process.send_signal(3)
        self.process.wait(30)
        shutil.rmtree(self.folder, ignore_errors=True)


def start_cluster() -> Cluster:
    """Fails the test where PostgreSQL is missing; it never skips."""
    programs = find_postgresql()
    if programs is None:
        pytest.fail(
            "no PostgreSQL on this machine: run tests/run.py, which installs it where it may"
        )
    # A short name: a unix socket's path may have about 100 characters.
    folder = Path(tempfile.mkdtemp(prefix="pg-"))
    as_user = _find_user(folder)
    made = subprocess.run(
        [
            programs / "initdb",
            "-D",
            folder / "data",
            "-U",
            "yard",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--no-sync",
            "--locale-provider=icu",
            "--icu-locale=en",
            "--locale=C.UTF-8",
        ],
        cwd=folder,
        check=False,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        **as_user,
    )
    if made.returncode:
        pytest.fail(
            f"initdb of {programs} (PostgreSQL {OLDEST} or later is needed): {made.stdout.decode()}"
        )
    settings = [word for name, value in SETTINGS.items() for word in ("-c", f"{name}={value}")]
    with (folder / "said").open("wb") as said:
        command = [programs / "postgres", "-D", folder / "data", "-k", folder, *settings]
        process = subprocess.Popen(command, cwd=folder, stdout=said, stderr=said, **as_user)
    cluster = Cluster(folder, process)
    _wait_until_ready(cluster, programs)
    return cluster


def _find_user(folder: Path) -> dict:
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        return {}
    import pwd  # noqa: PLC0415  (not there on every system)

    known = {entry.pw_name: entry for entry in pwd.getpwall()}
    entry = next(known[name] for name in OTHER_USERS if name in known)
    os.chown(folder, entry.pw_uid, entry.pw_gid)
    return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}


def _wait_until_ready(cluster: Cluster, programs: Path) -> None:
    for _ in range(300):
        ready = subprocess.run([programs / "pg_isready", "-q", "-h", cluster.folder], check=False)
        if ready.returncode == 0:
            return
        if cluster.process.poll() is not None:
            break
        time.sleep(0.1)
    said = (cluster.folder / "said").read_text(errors="replace")
    cluster.stop()
    pytest.fail(f"PostgreSQL did not start: {said}")
