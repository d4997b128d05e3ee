"""A filled sheet typed in with the keyboard alone, in a browser without scripts."""

from tests.conftest import CHROMIUM_FLAGS, get_chromium_path

READINGS = {
    "door-opening-width": "100",
    "door-opening-height": "70,0",
    "grate-hole-count": "19",
}
MAX_TABS = 60


def what_to_type(name: str) -> str:
    if name.startswith("cell-"):
        return next(
            (text for check, text in READINGS.items() if check in name),
            "fb" if "latch" in name else "p",
        )
    return {"serial-0": "B1-007", "time-0": "0930", "inspector": "I01"}.get(name, "")


def test_sheet_is_typed_in_reviewed_and_saved_by_keys(server, playwright):
    browser = playwright.chromium.launch(
        executable_path=get_chromium_path(), args=list(CHROMIUM_FLAGS)
    )
    context = browser.new_context(
        java_script_enabled=False, viewport={"width": 1000, "height": 800}
    )
    server.sign_in(context)
    page = context.new_page()
    page.goto(f"{server.address}/yard/entry?batch=B1&checklist=finished-stove&day=2026-11-20")
    for _ in range(MAX_TABS):
        name = page.evaluate("document.activeElement.name ?? ''")
        if name == "do":
            break
        page.keyboard.type(what_to_type(name))
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="B1-007", exact=True).wait_for()
    assert (
        page.get_by_text("✗ Failed 1").is_visible()
        and page.get_by_text("✓ Passed 19 of 20").is_visible()
    )
    page.keyboard.press("Enter")
    page.get_by_text("Saved: B1-007: rework").wait_for()
    assert page.evaluate("document.activeElement.name") == "serial-0", (
        "the inspector stays, so the next sheet begins with its serial"
    )
    browser.close()
    (state, event), (_counted, trail) = server.read_log()
    assert trail["body"] == {"action": "sheet_entered", "about": {"batch": "B1"}}
    assert (
        state == "counted"
        and event["body"]["entered_by"] == "LEAD"
        and event["captured_at"].startswith("2026-11-2")
        and event["body"]["answers"]["latch"]["fault"] == "latch-not-flush"
    )
