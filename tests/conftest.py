"""What every test may use: a real browser, a phone's page, and how hypothesis runs."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

CHECKOUT = Path(__file__).resolve().parent.parent

# CI must fail on the same example every time; a person's run may look for new ones.
settings.register_profile("ci", derandomize=True, print_blob=True, deadline=None)
settings.register_profile("desk", print_blob=True, deadline=None)
settings.load_profile("ci" if os.environ.get("CI") else "desk")

# They stop the browser's own look-ups on the network: faster, and the same offline.
CHROMIUM_FLAGS = (
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)

# A cheap phone: small screen, finger instead of mouse.
PHONE = {
    "viewport": {"width": 360, "height": 640},
    "device_scale_factor": 2,
    "is_mobile": True,
    "has_touch": True,
}


def get_chromium_path() -> str:
    """The system's Chromium; a missing browser fails the test, it never skips."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        path = shutil.which(name)
        if path:
            return path
    pytest.fail("no Chromium on this machine: run tests/run.py, which installs it where it may")


@pytest.fixture(scope="session")
def checkout() -> Path:
    """The folder that holds pyproject.toml."""
    return CHECKOUT


# One driver a module, not a run: while it lives it holds an event loop on this thread,
# and a test of another module could not start its own.
@pytest.fixture(scope="module")
def playwright() -> Iterator:
    """The Playwright driver."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="module")
def chromium(playwright) -> Iterator:
    """A running headless browser; profiles made in it die with their context."""
    browser = playwright.chromium.launch(executable_path=get_chromium_path(), args=list(CHROMIUM_FLAGS))
    yield browser
    browser.close()


@pytest.fixture
def open_phone(playwright, tmp_path) -> Iterator:
    """Call it to get a phone's browser context whose storage outlives `close()`.

    Calling it twice with the same name opens the same profile again, as when the
    app was killed and started anew.
    """
    opened = []

    def open_context(name: str = "phone", **more):
        context = playwright.chromium.launch_persistent_context(
            str(tmp_path / name),
            executable_path=get_chromium_path(),
            headless=True,
            args=list(CHROMIUM_FLAGS),
            **{**PHONE, **more},
        )
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
