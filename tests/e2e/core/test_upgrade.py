"""A phone of the database's first version with work that waits, in a real browser: held open by an
older tab, killed while its stores are changed, then opened.
"""

import os
import signal
import time
from pathlib import Path

from tests.e2e.core.test_store import HASTE

VERSION_1 = Path(__file__).parents[2] / "js" / "store" / "version_1.js"
DEVICE = "01890000-0000-7000-8000-000000000001"
OPEN_OLD = """async (id) => { const { openVersion1 } = await import('/version_1.js');
    globalThis.old = await openVersion1(indexedDB, id); }"""
READ_OLD = """async () => { const { readStores } = await import('/version_1.js');
    const text = (_, value) => value instanceof ArrayBuffer ? `${value.byteLength} bytes` : value;
    return JSON.stringify(await readStores(globalThis.old ?? await core.openDb()), text); }"""
# The page stops for good in the middle of the upgrade.
HANG = """const change = IDBObjectStore.prototype.deleteIndex;
    IDBObjectStore.prototype.deleteIndex = function (name) {
      change.call(this, name);
      console.log('hangs');
      for (;;); };"""


def find_busy_page(browser) -> int:
    """The process of the page that works without end."""
    cdp = browser.new_browser_cdp_session()

    def read() -> dict:
        found = cdp.send("SystemInfo.getProcessInfo")["processInfo"]
        return {one["id"]: one["cpuTime"] for one in found if one["type"] == "renderer"}

    before = read()
    time.sleep(0.4)
    return max(spent := read(), key=lambda pid: spent[pid] - before.get(pid, 0))


def test_an_older_tab_and_a_kill_in_the_middle_lose_nothing(context, open_bare, yard):
    yard.files["/version_1.js"] = (
        200,
        {"Content-Type": "text/javascript"},
        VERSION_1.read_bytes(),
    )
    holder = context.new_page()
    holder.goto(yard.url)
    holder.evaluate(OPEN_OLD, DEVICE)
    before = holder.evaluate(READ_OLD)

    newer = context.new_page()
    newer.add_init_script(HASTE)
    newer.goto("/bare")
    newer.wait_for_function("globalThis.core !== undefined")
    assert newer.evaluate("core.countUnsent().catch((error) => error.name)") == "TimeoutError"
    newer.close()
    assert holder.evaluate(READ_OLD) == before
    holder.close()

    killed = context.new_page()
    killed.add_init_script(HANG)
    killed.goto("/bare")
    killed.wait_for_function("globalThis.core !== undefined")
    with killed.expect_console_message(lambda message: message.text == "hangs"):
        killed.evaluate("setTimeout(() => core.openDb())")
    with killed.expect_event("crash"):
        os.kill(find_busy_page(context.browser), signal.SIGKILL)

    page = open_bare()
    versions = page.evaluate("indexedDB.databases().then((all) => all.map((one) => one.version))")
    assert versions == [1]
    assert page.evaluate("core.countUnsent()") == 20
    assert page.evaluate("core.openDb().then((db) => db.version)") == 2
    assert page.evaluate(READ_OLD) == before
    assert page.evaluate("core.save('S41').then(({ dev_seq }) => dev_seq)") == 41
    stoves = page.evaluate("core.listStoves(['B1'])")
    assert sum(stove["is_done"] for stove in stoves) == 41
    assert sum(stove["waits"] for stove in stoves) == 8
