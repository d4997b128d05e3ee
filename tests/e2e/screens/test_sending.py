"""What the inspector sees of sending, losing and handing over, on the real screens with the real
server.
"""

import json

from tests.e2e.app_modules import with_modules
from tests.e2e.inspector import Inspector, open_rest, send_now, show
from tests.e2e.phone_words import word

DAY_MS = 86_400_000


def cut_off(page) -> None:
    """No call gets through any more; the page itself stays."""
    page.route("**/api/**", lambda route: route.abort())


def save_unsent_file(first: Inspector, photo, carried) -> None:
    """A stove with a photographed fault, inspected out of reach of the server and saved as a file."""
    page = first.page
    cut_off(page)
    first.start_stove()
    first.walk({"door-opening-width": "106"}, photo=photo)
    first.save()
    page.get_by_role("button", name=word("saved.today")).tap()
    page.get_by_text(word("today.photos", n=1, mb=1)).wait_for()
    open_rest(page)
    page.get_by_role("link", name=word("export.title")).tap()
    with page.expect_download() as download:
        page.get_by_role("button", name=word("export.save")).tap()
    download.value.save_as(carried)
    page.get_by_text(word("export.saved", n=1, photos=1, left=0)).wait_for()
    show(page, "#/stove/finished%2FB1-001")
    page.get_by_text(word("photo.unsent")).wait_for()


def take_and_send(other, photo, carried) -> None:
    """A wrong file, then the right one, then all of it to the server."""
    show(other, "#/export")
    other.locator("#ui-import").set_input_files(photo)
    other.get_by_text(word("export.not_ours")).wait_for()
    other.locator("#ui-import").set_input_files(carried)
    other.get_by_text(word("export.taken", n=1, known=0, damaged=0, photos=1, left=0)).wait_for()
    show(other, "#/today")
    other.get_by_text(word("today.relayed", n=1)).wait_for()
    other.get_by_role("button", name=word("today.send")).tap()
    other.get_by_text(word("today.relayed", n=1)).wait_for(state="detached")


def test_a_stove_goes_by_file_over_another_phone_with_its_photo(server, join_phone, shot, tmp_path):
    photo, carried = shot, tmp_path / "carried.qcrecords"
    first, other = join_phone("Phone 1"), join_phone("Phone 2").page
    save_unsent_file(first, photo, carried)
    take_and_send(other, photo, carried)
    sealed = json.loads(carried.read_text())["events"]
    assert [event for _state, event in server.read_log() if event["stove"] == "B1-001"] == sealed
    (name,) = sealed[0]["photos"]
    assert other.request.get(f"{server.address}/photos/{name}").status == 401
    server.sign_in(other.context)
    assert other.request.get(f"{server.address}/photos/{name}").ok

    show(first.page, "#/today")
    first.page.get_by_role("button", name=word("today.send")).wait_for()
    first.page.unroute("**/api/**")
    send_now(first.page)
    open_rest(first.page)
    first.page.get_by_text(word("today.kept", kept=1, n=1)).wait_for()
    show(first.page, "#/stove/finished%2FB1-001")
    first.page.get_by_text(word("photo.sent")).wait_for()
    assert len([event for _state, event in server.read_log() if event["stove"] == "B1-001"]) == 1


def test_a_phone_that_the_server_no_longer_knows_is_joined_again_and_loses_nothing(
    server, join_phone
):
    page = join_phone().page
    page.evaluate(
        with_modules("""async () => { const {setMeta} = await load('store/local_db.js');
        await setMeta('token', 'revoked'); }""")
    )
    page.reload()
    page.get_by_text(word("sync.pair-again")).wait_for()
    page.get_by_role("link", name=word("join.title")).tap()
    page.locator("#ui-code").fill(server.make_code())
    page.get_by_role("button", name=word("join.go")).tap()
    page.get_by_role("button", name="Ciro").tap()
    page.get_by_role("button", name=word("today.next")).wait_for()
    assert page.get_by_text(word("sync.pair-again")).count() == 0


def test_photos_wait_for_wifi_when_so_chosen_and_the_phone_says_what_it_can_know(join_phone):
    page = join_phone().page
    show(page, "#/settings")
    switch = page.get_by_role("button", name=word("settings.wifi_only"))
    switch.tap()
    held = page.get_by_text(word("settings.network_costly"))
    held.wait_for()
    page.evaluate(
        "Object.defineProperty(navigator, 'connection', {value: {type: 'wifi'}, configurable: true})"
    )
    show(page, "#/today")
    show(page, "#/settings")
    held.wait_for(state="detached")
    assert switch.get_attribute("aria-pressed") == "true"


def test_a_tab_is_told_to_go_to_the_home_screen_in_its_first_week(join_phone):
    page = join_phone().page
    note = page.get_by_text(word("today.not_installed"))
    open_rest(page)
    note.wait_for()
    page.add_init_script(f"{{const now = Date.now; Date.now = () => now() + {8 * DAY_MS};}}")
    page.reload()
    page.get_by_role("button", name=word("today.next")).wait_for()
    open_rest(page)
    assert note.count() == 0


def test_an_iphone_tab_records_nothing_and_names_the_code_for_the_app(server, phone_page):
    phone_page.add_init_script("Object.defineProperty(navigator, 'standalone', {value: false})")
    phone_page.goto(f"{server.address}/phone/#join=ABCD2345")
    phone_page.get_by_role("heading", name=word("install.title")).wait_for()
    phone_page.get_by_text("ABCD2345").wait_for()
    assert phone_page.locator("button, input").count() == 0
    assert phone_page.evaluate("localStorage.length") == 0


def test_the_iphone_app_on_the_home_screen_asks_for_the_code(server, phone_page):
    phone_page.add_init_script("Object.defineProperty(navigator, 'standalone', {value: true})")
    phone_page.goto(f"{server.address}/phone/")
    phone_page.locator("#ui-code").wait_for()


def test_a_store_that_does_not_open_is_said_and_can_be_tried_again(server, phone_page):
    phone_page.add_init_script("""if (!sessionStorage.opened) { sessionStorage.opened = 1;
        IDBFactory.prototype.open = () => { throw new DOMException('Internal error', 'UnknownError'); }; }""")
    phone_page.goto(f"{server.address}/phone/")
    phone_page.get_by_role("heading", name=word("broken.title")).wait_for()
    phone_page.get_by_role("button", name=word("not_saved.retry")).tap()
    phone_page.locator("#ui-code").wait_for()


def test_a_newer_app_in_another_tab_asks_for_a_reload(join_phone):
    page = join_phone().page
    page.evaluate("indexedDB.open('qcapp', 99)")
    page.get_by_text(word("not_saved.VersionError")).wait_for()
