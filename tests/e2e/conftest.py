"""Servers that the browser's tests share (a small yard for each file, the demo for all of them),
and phones joined to the yard.
"""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image

from tests.conftest import PHONE
from tests.e2e.inspector import Inspector
from tests.e2e.server import YardServer, open_small_yard, read_checklist
from tests.filled_demo import fill_demo


@pytest.fixture(scope="module")
def server(tmp_path_factory) -> Iterator[YardServer]:
    with open_small_yard(tmp_path_factory.mktemp("yard")) as server:
        yield server


@pytest.fixture(scope="session")
def demo(tmp_path_factory) -> Iterator[YardServer]:
    folder = tmp_path_factory.mktemp("demo")
    settings = fill_demo(folder / "demo.sqlite3", datetime.now(UTC))
    with YardServer(settings, folder) as server:
        yield server


@pytest.fixture
def shot(tmp_path) -> Path:
    """A camera's picture."""
    path = tmp_path / "shot.jpg"
    Image.effect_noise((1600, 1200), 60).convert("RGB").save(path)
    return path


@pytest.fixture
def join_phone(server, chromium):
    """Call it for one more joined phone."""
    contexts = []

    def join(name: str = "Phone 1") -> Inspector:
        contexts.append(chromium.new_context(**PHONE))
        inspector = Inspector(contexts[-1].new_page(), read_checklist(server, "finished-stove"))
        inspector.join(server.address, server.make_code(name))
        return inspector

    yield join
    for context in contexts:
        context.close()
