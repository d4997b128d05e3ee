"""A backup made between a record and its photo: put back, the server gets the photo again,
though no record came since.
"""

import os
import subprocess
import sys

from qcapp.store.upkeep.backup import back_up
from tests.e2e.inspector import open_rest, show
from tests.e2e.phone_words import word


def put_back(server, file) -> None:
    server.stop()
    environment = {**os.environ, "QCAPP_DATABASE_URL": server.settings.database_url}
    subprocess.run(
        [sys.executable, "-m", "qcapp", "restore", str(file)],
        env=environment,
        check=True,
        capture_output=True,
        timeout=120,
    )
    server.start()


def wait_for_photo(page, address) -> None:
    for _ in range(150):
        if page.request.get(address).ok:
            return
        page.wait_for_timeout(200)
    raise AssertionError("the server did not get the photo within half a minute")


def test_photo_sent_after_the_backup_comes_again(server, join_phone, shot, tmp_path):
    backup = tmp_path / "old.db"
    inspector = join_phone("Phone 1")
    page = inspector.page
    page.route("**/api/photos/**", lambda route: route.abort())
    inspector.start_stove()
    inspector.walk({"door-opening-width": "106"}, photo=shot)
    inspector.save()
    show(page, "#/today")
    open_rest(page)
    page.get_by_text(word("today.kept", kept=1, n=1)).wait_for()
    page.get_by_text(word("today.photos", n=1, mb=1)).wait_for()
    back_up(server.settings.database_url, backup)
    (event,) = server.list_events("inspection")
    address = f"{server.address}/photos/{event['photos'][0]}"
    server.sign_in(page.context)

    page.unroute("**/api/photos/**")
    page.reload()
    wait_for_photo(page, address)
    put_back(server, backup)
    server.sign_in(page.context)
    assert page.request.get(address).status == 404
    page.reload()
    wait_for_photo(page, address)
    assert [event["stove"] for event in server.list_events("inspection")] == [event["stove"]]
