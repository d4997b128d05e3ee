"""What engines do not have in common is asked of each one, and the app offers only what the browser
can do. The answers are printed; static/guide/install.md names them.
"""

import json
from pathlib import Path

from tests.e2e.inspector import show
from tests.e2e.phone_words import word
from tests.engines.walking import join_phone

ASK = Path(__file__).with_name("differences.js").read_text(encoding="utf-8").rstrip().rstrip(";")


def test_the_app_offers_what_the_browser_can_do(server, open_browser):
    page = join_phone(server, open_browser()).page
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    found = page.evaluate(ASK)
    print(page.driver.name, page.driver.about["browserVersion"], json.dumps(found, indent=1))
    # Without these nothing can be recorded.
    assert found["is_secure"] and found["worker"] and found["locks"]
    # Where the browser knows the wish, it is granted; else it has one kind of commit only.
    assert found["durability"] in {"strict", "not here"}

    show(page, "#/settings")
    page.locator("dl").wait_for()
    assert (page.locator("#ui-vibrate").count() == 1) == found["vibrate"]
    protected = found["persisted"] == "true" or found["persist"] == "true"
    says = word("settings.protected" if protected else "settings.not_protected")
    assert says in page.locator("dl").inner_text()

    show(page, "#/next")
    page.locator("#ui-start").wait_for()
    can_scan = found["barcode_detector"] and found["camera"]
    assert (page.locator("#ui-scan").count() == 1) == can_scan
    if not can_scan:
        # Opened all the same, it says so, and typing is one tap away.
        show(page, "#/scan")
        page.locator("#ui-camera [role=alert]").wait_for()
        page.locator("a[href='#/find']").wait_for()
