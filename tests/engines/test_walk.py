"""The way of a stove in browsers that are not Chromium: walked, killed, started without a server.

A kill is SIGKILL to the browser with all its processes; the next start has the same data.
"""

import time
from contextlib import closing
from io import BytesIO

import pytest
from PIL import Image

from qcapp.store.registry.photos import find_photo
from tests.e2e.inspector import Inspector, send_now, wait_unsent
from tests.e2e.server import YardServer
from tests.engines.drivers import wait_until
from tests.engines.walking import go_to_today, join_phone, kill_and_open

# The longest side of a photo of a fault (js/store/photos.js).
LONGEST_PX = 1280
TOO_WIDE = {"door-opening-width": "106"}
ASKED = "() => document.querySelector('#ui-now')?.dataset.check ?? null"
# Longer than a draft takes to the disk, shorter than a person needs for the next answer.
SETTLED_S = 1


def _list_serials(server: YardServer) -> list[str]:
    """Of the inspections as they arrived; each must have an id of its own."""
    events = server.list_events("inspection")
    assert len({event["id"] for event in events}) == len(events)
    return [event["stove"] for event in events]


def _read_photo(server: YardServer, name: str) -> bytes | None:
    with closing(server.open_store()) as store, store.reading() as connection:
        return find_photo(connection, name)


def _assert_photo_arrived(server: YardServer) -> None:
    """A small JPEG, upright, without what the camera wrote beside the picture."""
    (name,) = server.list_events("inspection")[-1]["photos"]
    data = wait_until(lambda: _read_photo(server, name), "the photo of the fault", 20)
    picture = Image.open(BytesIO(data))
    assert picture.format == "JPEG" and not picture.getexif()
    assert max(picture.size) == LONGEST_PX
    width, height = picture.size
    assert width / height == pytest.approx(3 / 4, abs=0.01)
    upper, lower = (picture.getpixel((width // 2, height * part // 4)) for part in (1, 3))
    # Red above, blue below.
    assert upper[0] > 200 and upper[2] < 50, upper
    assert lower[2] > 200 and lower[0] < 50, lower


def test_two_stoves_arrive_once_whatever_is_killed(server, open_browser, photo):
    inspector = join_phone(server, open_browser())
    inspector.start_stove()
    inspector.walk()
    inspector.save()
    go_to_today(inspector.page)
    wait_unsent(inspector.page, 0)
    assert _list_serials(server) == ["B1-001"]

    server.stop()
    kill_and_open(inspector, open_browser, server, "#ui-next")
    assert inspector.start_stove() == "B1-002"
    _kill_after_an_answer(inspector, open_browser, server)
    _kill_in_a_fault_sheet(inspector, open_browser, server, photo)
    inspector.walk(TOO_WIDE)
    _kill_while_saving(inspector, open_browser, server)
    kill_and_open(inspector, open_browser, server, "#ui-next")
    wait_unsent(inspector.page, 1)

    server.start()
    send_now(inspector.page)
    wait_unsent(inspector.page, 0)
    assert _list_serials(server) == ["B1-001", "B1-002"]
    assert server.list_events("inspection")[1]["body"]["verdicts"]["door-opening-width"] == "fail"
    _assert_photo_arrived(server)


def _kill_after_an_answer(inspector: Inspector, open_browser, server: YardServer) -> None:
    """At once it may be asked again, and no other; after a second it is kept."""
    asked = []
    for _ in range(3):
        asked.append(inspector.page.evaluate(ASKED))
        inspector.answer({})
    asked.append(inspector.page.evaluate(ASKED))
    kill_and_open(inspector, open_browser, server, "#ui-now")
    shown = inspector.page.evaluate(ASKED)
    assert shown in asked[-2:], asked
    print(f"{inspector.page.driver.name}: killed at once, asked again: {shown != asked[-1]}")


def _kill_in_a_fault_sheet(inspector: Inspector, open_browser, server: YardServer, photo) -> None:
    """The sheet is open again, with the photo taken before."""
    page = inspector.page
    while page.locator("dialog[open]").count() == 0:
        inspector.answer(TOO_WIDE)
    page.locator("#ui-photo").set_input_files(photo)
    page.locator("dialog[open] img.photo").wait_for()
    time.sleep(SETTLED_S)
    kill_and_open(inspector, open_browser, server, "dialog[open] img.photo")
    assert inspector.page.evaluate(ASKED) == "door-opening-width"


def _kill_while_saving(inspector: Inspector, open_browser, server: YardServer) -> None:
    """The record is kept, or the review still asks for it: never both, never neither."""
    inspector.tap("#ui-save")
    kill_and_open(inspector, open_browser, server, "#ui-next, #ui-save")
    is_asked = inspector.page.locator("#ui-save").count() > 0
    print(f"{inspector.page.driver.name}: killed while saving, asked again: {is_asked}")
    if is_asked:
        inspector.save()
        go_to_today(inspector.page)
    wait_unsent(inspector.page, 1)
