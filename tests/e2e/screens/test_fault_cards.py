"""A fault as a card: where, what, how far off, photo, maker, what to do; the same on every screen."""

from tests.e2e.app_modules import READ_DRAFT
from tests.e2e.inspector import show, wait_settled
from tests.e2e.phone_words import word

READ_CARD = """card => ({
  faults: card.querySelector(".card-what > b").textContent,
  figure: card.querySelector(".figure")?.textContent ?? null,
  excess: card.querySelector(".excess")?.textContent ?? null,
  maker: card.querySelector(".fault-card > small").textContent,
  todo: card.querySelector(".card-todo").textContent,
  lit: card.querySelector(".drawing .lit").dataset.part,
  isPlaced: card.querySelector(".drawing .mark") !== null,
  photos: card.querySelectorAll("img.photo").length })"""


def fail_two(inspector, shot):
    """Two faults with a place and a photo on the edges, and a door opening 3 mm too wide."""
    page = inspector.page
    serial = inspector.start_stove()
    wait_settled(page).locator("#ui-fail").tap()
    for at in (0, 1):
        page.locator("dialog [id^=ui-fault-]").nth(at).tap()
    drawing = page.locator("#ui-place .drawing")
    drawing.scroll_into_view_if_needed()
    page.wait_for_timeout(100)
    box = drawing.bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.4)
    page.locator("#ui-place .mark").wait_for()
    page.locator("#ui-photo").set_input_files(shot)
    page.locator("dialog[open] img.photo").wait_for()
    page.locator("#ui-done").tap()
    page.locator("dialog[open]").wait_for(state="detached")
    inspector.walk({"door-opening-width": "106"})
    return serial


def read_cards(page):
    page.locator(".card img.photo").first.wait_for()
    cards = [card.evaluate(READ_CARD) for card in page.locator(".card").all()]
    return {card["faults"]: card for card in cards}


def test_one_card_on_review_rework_list_and_stove(inspector, server, shot):
    page = inspector.page
    serial = fail_two(inspector, shot)
    shown = read_cards(page)
    assert shown["Sharp rim · Sharp door edge"] == {
        "faults": "Sharp rim · Sharp door edge",
        "figure": None,
        "excess": None,
        "maker": "Dress the edges: Ano",
        "todo": word("fault.todo", ask="Cloth slides over every edge"),
        "lit": "body",
        "isPlaced": True,
        "photos": 1,
    }
    wide = shown["Too wide"]
    assert (wide["figure"], wide["lit"]) == ("106 mm", "door-opening")
    assert wide["excess"] == word("fault.above", excess=3, unit="mm")
    assert wide["todo"] == word("fault.todo_limits", limits="97 to 103 mm")
    answers = page.evaluate(READ_DRAFT)["answers"]
    edges = answers["sharp-edges"]
    assert (edges["fault"], edges["more_faults"]) == ("sharp-rim", ["sharp-door"])
    assert all(isinstance(one, int) and 0 <= one <= 1000 for one in edges["place"])
    inspector.save()
    show(page, "#/rework")
    assert read_cards(page) == shown
    page.locator("button.row", has_text=serial).tap()
    page.locator("section.ledger").wait_for()
    assert read_cards(page) == shown


def test_who_repaired_it_is_recorded(inspector, server, shot):
    page = inspector.page
    serial = fail_two(inspector, shot)
    inspector.save()
    show(page, f"#/stove/finished%2F{serial}")
    page.locator("#ui-reworked-sharp-edges").select_option("A02")
    page.get_by_role("button", name=word("stove.reinspect")).tap()
    page.locator(".walk").wait_for()
    inspector.walk()
    said = word("stove.reworked", name="Beda", ask="Cloth slides over every edge")
    page.get_by_text(said).wait_for()
    inspector.save()
    for _ in range(100):
        found = [one["body"] for one in server.list_events("inspection") if one["stove"] == serial]
        if len(found) == 2:
            break
        page.wait_for_timeout(100)
    assert found[1]["reworked_by"] == {"sharp-edges": "A02"} and "reworked_by" not in found[0]
    assert found[0]["answers"]["sharp-edges"]["more_faults"] == ["sharp-door"]
    show(page, f"#/stove/finished%2F{serial}")
    page.get_by_text(said).wait_for()
