"""Servers that the browser's tests share, one for each file: a small yard, and the demo."""

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest

from qcapp.demo import prepare_demo
from qcapp.settings import Settings
from tests.e2e.server import YardServer, open_small_yard


@pytest.fixture(scope="module")
def server(tmp_path_factory) -> Iterator[YardServer]:
    server = open_small_yard(tmp_path_factory.mktemp("yard"))
    server.start()
    yield server
    server.stop()


@pytest.fixture(scope="module")
def demo(tmp_path_factory) -> Iterator[YardServer]:
    folder = tmp_path_factory.mktemp("demo")
    settings, _figures = prepare_demo(Settings(database_url=f"sqlite:///{folder / 'demo.sqlite3'}"), fresh=False, now=datetime.now(UTC), show=False)
    server = YardServer(settings, folder)
    server.start()
    yield server
    server.stop()
