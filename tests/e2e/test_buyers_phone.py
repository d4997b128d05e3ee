"""The buyer's inspector walks round an offered stove on a phone; printed pages say what they are."""

import io

from pypdf import PdfReader

from qcapp.store.registry.checklists import get_current_checklist
from tests.e2e.inspector import Inspector

MAKERS = ("Odrin Vaskelo", "A01", "A04", "I01", "I02")


def test_buyers_inspector_checks_an_offered_stove_again_and_meets_no_maker(chromium, demo):
    store = demo.open_store()
    with store.reading() as connection:
        compiled = get_current_checklist(connection, "finished-stove").compiled()
    store.close()
    context = chromium.new_context(viewport={"width": 360, "height": 640}, has_touch=True)
    page = context.new_page()
    code = demo.make_code("Buyer's inspector", buyer_batch="B5")
    page.goto(f"{demo.address}/phone/#join={code}")
    page.locator("#ui-go").tap()
    page.get_by_role("button", name="Buyer's inspector").tap()
    page.locator('a[href="#/study/recheck:B5"]').tap()
    seen = [page.locator("#screen").inner_text()]
    page.get_by_role("button", name="B5-002").tap()
    page.locator(".walk").wait_for()
    seen.append(page.locator("#screen").inner_text())
    inspector = Inspector(page, compiled)
    inspector.walk()
    seen.append(page.locator("#screen").inner_text())
    inspector.tap("#ui-save")
    page.locator('a[href="#/study/recheck:B5"]').or_(page.locator(".saved")).first.wait_for()
    page.goto(f"{demo.address}/phone/#/today")
    # It sends by itself once there is signal.
    page.locator("[data-unsent='0']").wait_for()
    context.close()
    assert not [maker for maker in MAKERS for text in seen if maker in text]
    (look,) = [
        event["body"]
        for event in demo.list_events("study_answer")
        if event["body"]["study"] == "recheck:B5"
    ]
    assert look["stove"] == "B5-002" and len(look["answers"]) > 10


def test_every_printed_page_says_whose_it_is_what_it_counts_and_when(chromium, demo):
    context = chromium.new_context()
    demo.sign_in(context)
    page = context.new_page()
    for path, counts in (
        ("/trainer/faults?batch=B5", "Filtered: batch B5"),
        ("/batches/B5/summaries/1", "summary 1, issued"),
    ):
        page.goto(demo.address + path)
        printed = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
        texts = [" ".join(sheet.extract_text().split()) for sheet in printed.pages]
        assert [text for text in texts if counts not in text or "printed 20" not in text] == []
        assert min(map(len, texts)) > 300, f"{path}: a page with next to nothing on it"
    context.close()
