"""A fake yard, and pages with the phone's modules and nothing else."""

from collections.abc import Iterator

import pytest

from tests.e2e.core.fake_yard import FakeYard


@pytest.fixture
def yard(checkout) -> Iterator[FakeYard]:
    served = FakeYard(checkout / "static")
    yield served
    served.stop()


@pytest.fixture
def context(chromium, yard) -> Iterator:
    """A fresh profile: nothing stored yet."""
    opened = chromium.new_context(base_url=yard.url)
    yield opened
    opened.close()


@pytest.fixture
def open_bare(context):
    """Call it for one more tab of the same phone with `core` (store and sync) in it."""

    def open_page():
        page = context.new_page()
        page.goto("/bare")
        page.wait_for_function("globalThis.core !== undefined")
        return page

    return open_page


@pytest.fixture
def bare(open_bare):
    return open_bare()


@pytest.fixture
def paired(bare):
    """The same, joined to the yard."""
    bare.evaluate("core.enrol('ABCD2345')")
    return bare
