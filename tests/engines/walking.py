"""What every walk in another engine begins with, and the kill."""

from tests.e2e.inspector import Inspector
from tests.e2e.server import YardServer, read_checklist
from tests.engines.page import Page


def join_phone(server: YardServer, page: Page) -> Inspector:
    """A joined phone that has a worker with all files."""
    inspector = Inspector(page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code())
    page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
    return inspector


def go_to_today(page: Page) -> None:
    page.evaluate("() => { location.hash = '#/today'; }")
    page.locator("#ui-next").wait_for()


def kill_and_open(inspector: Inspector, open_browser, server: YardServer, shows: str) -> None:
    inspector.page.driver.kill()
    inspector.page = open_browser()
    inspector.page.goto(f"{server.address}/phone/")
    inspector.page.locator(shows).wait_for()
