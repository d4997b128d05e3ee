"""What every test may use: a real browser, a phone's page, and how hypothesis runs."""

import gc
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from tests import builders
from tests.postgres import Cluster, start_cluster
from tests.programs import find_chromium

CHECKOUT = Path(__file__).resolve().parent.parent
BROWSER = CHECKOUT / "tests" / "e2e"

# CI must fail on the same example every time; a person's run may look for new ones.
settings.register_profile("ci", derandomize=True, print_blob=True, deadline=None)
settings.register_profile("local", print_blob=True, deadline=None)
settings.load_profile("ci" if os.environ.get("CI") else "local")

# They stop the browser's own look-ups on the network: faster, and the same offline.
CHROMIUM_FLAGS = (
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)

# A cheap phone: small screen, finger instead of mouse. One dot a pixel: less to draw, same places.
PHONE = {
    "viewport": {"width": 360, "height": 640},
    "device_scale_factor": 1,
    "is_mobile": True,
    "has_touch": True,
}


def get_chromium_path() -> str:
    """The system's Chromium; a missing browser fails the test, it never skips."""
    path = find_chromium()
    if path:
        return path
    pytest.fail("no Chromium on this machine: run tests/run.py, which installs it where it may")


def pytest_configure(config) -> None:
    config.addinivalue_line(
        "markers", "both_engines: every test of the file runs on SQLite and on PostgreSQL"
    )
    config.addinivalue_line(
        "markers", "slow: seconds, or a server of PostgreSQL; left out of tests/run.py fast"
    )
    config.addinivalue_line(
        "markers", "sqlite_only: of such a file, a long test whose question is not the database's"
    )


def pytest_generate_tests(metafunc) -> None:
    marked = metafunc.definition.get_closest_marker
    if marked("both_engines") and not marked("sqlite_only"):
        both = ["sqlite", pytest.param("postgresql", marks=pytest.mark.slow)]
        metafunc.parametrize("engine", both, indirect=True, scope="module")


def pytest_collection_finish() -> None:
    # What is loaded by now stays to the end: each collection of garbage need not go through it.
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A running PostgreSQL of this run's own."""
    started = start_cluster()
    yield started
    started.stop()


@pytest.fixture(scope="module", autouse=True)
def engine(request) -> Iterator[str]:
    """Where the builders make their databases; both in turn for files marked both_engines,
    else SQLite.
    """
    kind = getattr(request, "param", "sqlite")
    if kind == "sqlite":
        yield kind
        return
    databases = request.getfixturevalue("cluster").databases
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(builders, "make_url", databases.make_url)
        patch.setattr(builders, "Store", databases.open_store)
        yield kind
    databases.give_back(0)


@pytest.fixture(autouse=True)
def databases_of_one_test(engine, request) -> Iterator[None]:
    """What a test itself made is free for the next one;
    what its file shares was made before this.
    """
    if engine == "sqlite":
        yield
        return
    databases = request.getfixturevalue("cluster").databases
    shared = len(databases.used)
    yield
    databases.give_back(shared)


@pytest.fixture(scope="session")
def checkout() -> Path:
    """The folder that holds pyproject.toml."""
    return CHECKOUT


def pytest_collection_modifyitems(items) -> None:
    # While the driver of the browser lives it holds an event loop on this thread, and a test of
    # another room could not start its own; so these come last.
    items.sort(key=lambda item: item.path.is_relative_to(BROWSER))


@pytest.fixture(scope="session")
def playwright() -> Iterator:
    """The Playwright driver, for tests/e2e alone."""
    from playwright.sync_api import sync_playwright  # noqa: PLC0415  (a run without a browser needs none)

    with sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="session")
def chromium(playwright) -> Iterator:
    """A running headless browser; profiles made in it die with their context."""
    browser = playwright.chromium.launch(
        executable_path=get_chromium_path(), args=list(CHROMIUM_FLAGS)
    )
    yield browser
    browser.close()


def open_profile(driver, folder: Path | str, **more):
    """A phone's browser whose storage outlives it in the folder."""
    return driver.chromium.launch_persistent_context(
        str(folder),
        executable_path=get_chromium_path(),
        headless=True,
        args=list(CHROMIUM_FLAGS),
        **{**PHONE, **more},
    )


@pytest.fixture
def open_phone(playwright, tmp_path) -> Iterator:
    """Call it to get a phone's browser context whose storage outlives `close()`.

    Calling it twice with the same name opens the same profile again, as when the
    app was killed and started anew.
    """
    opened = []

    def open_context(name: str = "phone", **more):
        context = open_profile(playwright, tmp_path / name, **more)
        opened.append(context)
        return context

    yield open_context
    for context in opened:
        context.close()


@pytest.fixture
def phone_page(chromium) -> Iterator:
    """A fresh page as a 360 by 640 touch phone shows it."""
    context = chromium.new_context(**PHONE)
    yield context.new_page()
    context.close()
