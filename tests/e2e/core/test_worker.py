"""The worker in a real browser: one whole set of files, started without a network, changed at a
safe moment.
"""

import hashlib
import json
import time
from pathlib import Path

import pytest

from tests.e2e.core.fake_yard import FakeYard

SHELL = """<!doctype html><title>{build}</title><main id="screen">{build}</main>
<script type="module" src="/static/{build}/phone/js/worker_registration.js"></script>
<script type="module" src="/static/{build}/part.js"></script>"""
# With an end, because `ready` waits for ever when no set was accepted.
WAIT_ACTIVE = """Promise.race([navigator.serviceWorker.ready,
    new Promise((_, reject) => setTimeout(() => reject(new Error('no worker became active')), 15_000))])
    .then((registration) => registration.active.state)"""


@pytest.fixture
def publish(yard, checkout):
    """Call it with a build's name to serve that build; `more` replaces files that the list
    promises.
    """

    def serve(build: str, script: str = "sw.js", more: dict | None = None) -> None:
        static = checkout / "static" / "phone"
        files = {
            "/phone/": ("text/html", SHELL.format(build=build).encode()),
            f"/static/{build}/phone/js/worker_registration.js": (
                "text/javascript",
                (static / "js/worker_registration.js").read_bytes(),
            ),
            f"/static/{build}/part.js": (
                "text/javascript",
                f"globalThis.part = '{build}';".encode(),
            ),
        }
        listed = json.dumps(
            [
                [path, hashlib.sha256(content).hexdigest()]
                for path, (_kind, content) in files.items()
            ]
        )
        worker = (
            (static / script)
            .read_text(encoding="utf-8")
            .replace("__BUILD__", build)
            .replace('"__FILES__"', listed)
        )
        for path, (kind, content) in {
            **files,
            "/sw.js": ("text/javascript", worker.encode()),
            **(more or {}),
        }.items():
            yard.files[path] = (200, {"Content-Type": kind}, content)

    return serve


UPDATE = """async (state) => {
    const registration = await navigator.serviceWorker.getRegistration('/');
    const pause = () => new Promise((go) => setTimeout(go, 30));
    await registration.update().catch(() => null);
    for (let tries = 0; tries < 100 && !registration[state]; tries += 1) await pause(); }"""
# Registers a worker and waits until it is at work or has failed.
REGISTER = """async () => {
    const registration = await navigator.serviceWorker.register('/sw.js').catch(() => null);
    const worker = registration?.installing ?? registration?.waiting ?? registration?.active;
    const isOver = () => !worker || ['redundant', 'activated'].includes(worker.state);
    await new Promise((resolve) => {
      if (isOver()) resolve();
      worker?.addEventListener('statechange', () => isOver() && resolve()); }); }"""
# Not awaited: the page is loaded anew in the middle of it.
SWITCH_VERSION = """() => {
    import('/static/one/phone/js/worker_registration.js').then((link) => link.switchVersion()); }"""
TIDY = """navigator.serviceWorker.ready.then(
    (registration) => registration.active.postMessage({type: 'tidy'}))"""


def open_phone_page(context):
    page = context.new_page()
    page.goto("/phone/")
    return page


def list_caches(page) -> list[str]:
    return sorted(page.evaluate("caches.keys()"))


def update(page, state: str) -> None:
    """Asks for a newer worker and waits until it is there (`waiting`) or has failed."""
    page.evaluate(UPDATE, state)


def wait_for_caches(page, wanted: list[str]) -> None:
    for _ in range(100):
        if list_caches(page) == wanted:
            return
        time.sleep(0.15)
    assert list_caches(page) == wanted


def test_the_app_starts_with_the_server_gone(context, yard, publish):
    publish("one")
    page = open_phone_page(context)
    assert page.evaluate(WAIT_ACTIVE) in ("activating", "activated")
    yard.stop()
    answer = page.reload()
    assert answer.from_service_worker
    assert page.text_content("#screen") == "one"
    page.wait_for_function("globalThis.part === 'one'")
    page.goto("/phone/?from=home#/today")
    assert page.text_content("#screen") == "one"


def test_the_app_starts_again_after_the_browser_was_closed(open_phone, checkout):
    yard = FakeYard(checkout / "static")
    serve_real_shell(yard, checkout)
    phone = open_phone(base_url=yard.url)
    page = phone.new_page()
    page.goto("/phone/")
    page.evaluate(WAIT_ACTIVE)
    phone.close()
    yard.stop()
    page = open_phone(base_url=yard.url).new_page()
    assert page.goto("/phone/").from_service_worker
    assert page.locator("main#screen").count() == 1


def serve_real_shell(yard: FakeYard, checkout: Path) -> None:
    """The page of the product itself, filled in as the server does it."""
    static = checkout / "static" / "phone"
    page = (
        (static / "index.html")
        .read_text(encoding="utf-8")
        .replace("__BASE__", "/static/real/")
        .replace("__APP_BUILD__", "real")
    )
    files = {"/phone/": page.encode()}
    for path in [*sorted((static / "js").rglob("*.js")), static / "css" / "phone.css"]:
        files[f"/static/real/phone/{path.relative_to(static).as_posix()}"] = path.read_bytes()
    listed = json.dumps(
        [[path, hashlib.sha256(content).hexdigest()] for path, content in files.items()]
    )
    worker = (
        (static / "sw.js")
        .read_text(encoding="utf-8")
        .replace("__BUILD__", "real")
        .replace('"__FILES__"', listed)
    )
    yard.files["/phone/"] = (200, {"Content-Type": "text/html"}, page.encode())
    yard.files["/sw.js"] = (200, {"Content-Type": "text/javascript"}, worker.encode())


@pytest.mark.parametrize("path", ["/bare", "/phonebook", "/trainer"])
def test_other_pages_are_left_to_the_network(context, yard, publish, path):
    publish("one")
    yard.files.setdefault(path, (200, {"Content-Type": "text/html"}, b"<title>page</title>"))
    page = open_phone_page(context)
    page.evaluate(WAIT_ACTIVE)
    answer = page.goto(path)
    assert not answer.from_service_worker
    assert path in [called for _method, called, _size in yard.calls]


def test_a_call_to_the_server_is_never_answered_from_the_set(context, yard, publish):
    publish("one")
    page = open_phone_page(context)
    page.evaluate(WAIT_ACTIVE)
    page.reload()
    yard.stop()
    assert (
        page.evaluate("fetch('/api/sync/hello').then(() => 'answered', () => 'no network')")
        == "no network"
    )


def test_a_file_that_is_not_the_promised_one_rejects_the_whole_set(context, yard, publish):
    publish("one", more={"/static/one/part.js": ("text/javascript", b"globalThis.part = 'stale';")})
    page = open_phone_page(context)
    page.evaluate(REGISTER)
    assert list_caches(page) == []
    assert (
        page.evaluate(
            "navigator.serviceWorker.getRegistration('/').then((found) => found?.active ?? null)"
        )
        is None
    )


def test_a_broken_new_set_leaves_the_old_one_at_work(context, yard, publish):
    publish("one")
    page = open_phone_page(context)
    page.evaluate(WAIT_ACTIVE)
    publish("two", more={"/static/two/part.js": ("text/javascript", b"cut")})
    update(page, "waiting")
    assert (
        page.evaluate("navigator.serviceWorker.getRegistration('/').then((found) => found.waiting)")
        is None
    )
    assert list_caches(page) == ["qcapp-one"]
    yard.stop()
    page.reload()
    assert page.text_content("#screen") == "one"


def test_a_stale_copy_in_the_browsers_own_cache_is_passed_by(context, yard, publish):
    publish("one")
    stale = (
        200,
        {"Content-Type": "text/javascript", "Cache-Control": "max-age=9999"},
        b"globalThis.part = 'stale';",
    )
    right = yard.files["/static/one/part.js"]
    page = context.new_page()
    page.goto("/bare")
    yard.files["/static/one/part.js"] = stale
    assert (
        page.evaluate("fetch('/static/one/part.js').then((answer) => answer.text())")
        == stale[2].decode()
    )
    yard.files["/static/one/part.js"] = right
    page.goto("/phone/")
    page.evaluate(WAIT_ACTIVE)
    page.reload()
    page.wait_for_function("globalThis.part === 'one'")


def test_a_new_version_waits_while_a_page_is_in_use_and_comes_when_told(context, publish):
    publish("one")
    page = open_phone_page(context)
    page.evaluate(WAIT_ACTIVE)
    page.reload()
    page.evaluate(
        "() => { document.addEventListener('qcapp-version', () => { globalThis.isTold = true; }); }"
    )
    publish("two")
    update(page, "waiting")
    page.wait_for_function("globalThis.isTold === true")
    assert page.text_content("#screen") == "one"
    assert list_caches(page) == ["qcapp-one", "qcapp-two"]
    with page.expect_navigation():
        page.evaluate(SWITCH_VERSION)
    assert page.text_content("#screen") == "two"
    wait_for_caches(page, ["qcapp-two"])


def test_tidying_leaves_the_set_of_a_version_that_waits(context, publish):
    publish("one")
    page = open_phone_page(context)
    page.evaluate(WAIT_ACTIVE)
    publish("two")
    update(page, "waiting")
    page.evaluate(TIDY)
    page.wait_for_timeout(1000)
    assert list_caches(page) == ["qcapp-one", "qcapp-two"]


def test_a_new_version_that_waits_comes_at_the_next_cold_start(context, publish):
    publish("one")
    page = open_phone_page(context)
    page.evaluate(WAIT_ACTIVE)
    page.reload()
    publish("two")
    update(page, "waiting")
    page.close()
    page = open_phone_page(context)
    page.wait_for_function("document.title === 'two'")
    wait_for_caches(page, ["qcapp-two"])


def test_the_old_set_stays_while_another_tab_runs_on_it(context, publish):
    publish("one")
    other = open_phone_page(context)
    other.evaluate(WAIT_ACTIVE)
    page = open_phone_page(context)
    publish("two")
    update(page, "waiting")
    with page.expect_navigation():
        page.evaluate(SWITCH_VERSION)
    page.wait_for_function("globalThis.part === 'two'")
    assert other.text_content("#screen") == "one"
    assert (
        other.evaluate("fetch('/static/one/part.js?again').then((answer) => answer.text())")
        == "globalThis.part = 'one';"
    )
    assert list_caches(page) == ["qcapp-one", "qcapp-two"]
    other.close()
    page.reload()
    wait_for_caches(page, ["qcapp-two"])


def test_the_worker_that_removes_itself_leaves_the_records(context, yard, publish):
    publish("one")
    page = open_phone_page(context)
    page.evaluate(WAIT_ACTIVE)
    bare = context.new_page()
    bare.goto("/bare")
    bare.wait_for_function("globalThis.core !== undefined")
    bare.evaluate("core.save('S1')")
    publish("one", script="sw_remove.js")
    page.evaluate(
        "navigator.serviceWorker.getRegistration('/').then((registration) => registration.update())"
    )
    wait_for_caches(bare, [])
    assert (
        bare.evaluate("navigator.serviceWorker.getRegistrations().then((all) => all.length)") == 0
    )
    assert bare.evaluate("core.countUnsent()") == 1


def test_the_manifest_lets_the_browser_install_the_app(checkout):
    manifest = json.loads(
        (checkout / "static" / "phone" / "manifest.webmanifest").read_text(encoding="utf-8")
    )
    assert (manifest["id"], manifest["start_url"], manifest["scope"], manifest["display"]) == (
        "/phone/",
        "/phone/",
        "/phone/",
        "standalone",
    )
    assert {(icon["sizes"], icon["purpose"]) for icon in manifest["icons"]} == {
        ("192x192", "any"),
        ("512x512", "any"),
        ("512x512", "maskable"),
    }
    named = [icon["src"].removeprefix("__BASE__") for icon in manifest["icons"]]
    assert [name for name in named if not (checkout / "static" / name).is_file()] == []
