"""An inspector's PIN on the phone: it labels work, and never keeps a record from the server."""

import pytest

from tests.conftest import PHONE
from tests.e2e.inspector import Inspector
from tests.e2e.phone_words import word
from tests.e2e.server import open_small_yard, read_checklist

KEPT = """async () => {
    const open = indexedDB.open('qcapp');
    const db = await new Promise((done) => { open.onsuccess = () => done(open.result); });
    const read = (name, ask) => new Promise((done) => {
        const request = ask(db.transaction(name).objectStore(name));
        request.onsuccess = () => done(request.result); });
    const kept = {
        events: await read('events', (store) => store.getAll()),
        drafts: await read('drafts', (store) => store.getAll()),
        pins: await read('meta', (store) => store.get('pins')) };
    db.close();
    return JSON.stringify(kept, (_, value) => (value instanceof Uint8Array ? value.length : value)); }"""


@pytest.fixture
def phone(tmp_path, chromium):
    """A joined phone with one unsent record and one paused inspection,
    out of reach of the server.
    """
    server = open_small_yard(tmp_path)
    server.start()
    context = chromium.new_context(**PHONE)
    inspector = Inspector(context.new_page(), read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code("Phone 1"))
    inspector.page.route("**/api/**", lambda route: route.abort())
    inspector.start_stove()
    inspector.walk()
    inspector.save()
    inspector.tap("#ui-next")
    inspector.tap("#ui-start")
    inspector.tap(".part-bar h1 a")
    inspector.tap("#ui-pause")
    inspector.page.get_by_role("button", name=word("today.next")).wait_for()
    yield inspector.page
    context.close()
    server.stop()


def read_kept(page) -> dict:
    """{events, drafts, pins} as the phone holds them; a salt is given by its length."""
    return page.evaluate(f"({KEPT})().then(JSON.parse)")


def open_who(page) -> None:
    page.get_by_role("link", name=word("today.inspector")).tap()
    page.get_by_role("heading", name=word("who.title")).wait_for()


def type_pin(page, pin: str, go: str) -> None:
    page.locator("#ui-code").fill(pin)
    page.get_by_role("button", name=go).tap()


def test_a_pin_is_set_asked_for_and_removed_and_touches_no_record(phone):
    before = read_kept(phone)
    assert (len(before["events"]), len(before["drafts"]), before.get("pins")) == (1, 1, None)

    open_who(phone)
    phone.get_by_role("link", name=word("new_pin.title", name="Ciro")).tap()
    phone.get_by_text(word("new_pin.how")).wait_for()
    type_pin(phone, "12a", word("new_pin.go"))
    phone.get_by_text(word("pin.four")).wait_for()
    type_pin(phone, "0428", word("new_pin.go"))
    phone.get_by_role("button", name=word("today.next")).wait_for()
    pins = read_kept(phone)["pins"]
    assert set(pins) == {"I01"} and pins["I01"]["salt"] == 16 and len(pins["I01"]["hash"]) == 64

    phone.reload()
    open_who(phone)
    phone.get_by_role("button", name=f"Ciro {word('who.pin')}").tap()
    for wrong in ("0000", "0429", "9999", "0001"):
        type_pin(phone, wrong, word("pin.go"))
        phone.get_by_text(word("pin.wrong")).wait_for()
    type_pin(phone, "0428", word("pin.go"))
    phone.get_by_role("button", name=word("today.next")).wait_for()

    open_who(phone)
    phone.get_by_role("button", name="Ciro").tap()
    phone.get_by_text(word("pin.forgotten")).tap()
    phone.get_by_text(word("pin.remove_why")).wait_for()
    phone.get_by_role("button", name=word("pin.remove")).tap()
    phone.get_by_text(word("who.pin_removed", day="")).wait_for()
    phone.reload()
    phone.get_by_text(word("who.pin_removed", day="")).wait_for()
    after = read_kept(phone)
    assert set(after["pins"]["I01"]) == {"removed_at"}
    assert (after["events"], after["drafts"]) == (before["events"], before["drafts"])

    phone.get_by_role("link", name=word("new_pin.title", name="Ciro")).tap()
    type_pin(phone, "1111", word("new_pin.go"))
    open_who(phone)
    assert phone.get_by_text(word("who.pin_removed", day="")).count() == 0
