"""Finding a stove, and keyboards that type by themselves, with the real pad and the real camera's
absence.
"""

from tests.e2e.inspector import show
from tests.e2e.phone_words import word


def test_adapters_type_serial_and_readings_and_a_phone_without_camera_types_too(inspector):
    """One walk: no detector, so no way to scan; a scanner's Enter begins the stove; a caliper types
    two readings faster than screens are painted.
    """
    page = inspector.page
    show(page, "#/find")
    page.locator("#ui-serial").wait_for()
    assert page.locator("#ui-scan").count() == 0
    page.locator("#ui-serial").focus()
    page.keyboard.type("B1-007\n")
    page.locator("#ui-start").wait_for()
    assert page.locator("#ui-serial").input_value() == "B1-007"
    page.locator("#ui-serial").press("Enter")
    page.locator(".walk").wait_for()
    show(page, "#/walk/door-opening")
    page.keyboard.type("100\n70\n")
    page.locator("[data-check=door-opening-edges]").wait_for()
    rows = page.locator(".checks").inner_text()
    assert "100 mm" in rows and "70 mm" in rows
    show(page, "#/scan")
    page.get_by_text(word("scan.no_camera")).wait_for()
