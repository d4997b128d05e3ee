"""One checklist for all yards: offered by the programme, taken or declined by each yard's lead."""

import html
import re

import pytest

from qcapp.checklist.load import load_checklist
from qcapp.checklist.model import Checklist
from qcapp.errors import StoreError
from qcapp.programme_app import list_stores
from qcapp.store.registry.checklists import get_current_checklist, publish_checklist
from qcapp.usecases import roll_out_checklist
from tests.builders import ROOT
from tests.page_text import text_of
from tests.programme_yards import browse, serve_programme, sign_in

HOST = "programme.example"
NAMES = ("North", "South", "West")


@pytest.fixture
def served(tmp_path):
    """Every yard has the shipped checklist of finished stoves; West has changed it since."""
    served = serve_programme(tmp_path, NAMES)
    shipped = load_checklist(ROOT / "checklists" / "finished-stove.yaml")
    for name in NAMES:
        with list_stores(served)[f"{name.lower()}.example"].writing() as connection:
            publish_checklist(connection, shipped, origin="file", now="2026-11-01T00:00:00.000Z")
    served.shipped = shipped
    return served


def visit(served, name, role="yard_lead"):
    host = HOST if name == "Programme" else f"{name.lower()}.example"
    return browse(
        served, host, sign_in(served, host, "programme_lead" if name == "Programme" else role)
    )


def offer(served):
    """Looks at a checklist as North uses it, and offers it; gives its hash."""
    lead = visit(served, "Programme")
    seen = lead.post("/checklists/look", data={"used": served.shipped.hash})
    found = re.search(r'name="hash" value="([0-9a-f]{64})"', seen.text).group(1)
    text = re.search(r"<textarea[^>]*>\n(.*?)</textarea>", seen.text, re.DOTALL).group(1)
    answer = lead.post(
        "/checklists", data={"hash": found, "text": html.unescape(text)}, follow_redirects=False
    )
    assert answer.status_code == 303, answer.text
    return found


def test_every_yard_uses_the_very_same_checklist_once_its_lead_takes_it(served):
    found = offer(served)
    for name in NAMES:
        assert "The programme offers" in text_of(visit(served, name).get("/yard/checklists"))
        answer = visit(served, name).post(
            f"/yard/offered-checklists/{found}", data={"action": "take"}, follow_redirects=False
        )
        assert answer.status_code == 303
        with list_stores(served)[f"{name.lower()}.example"].reading() as connection:
            current = get_current_checklist(connection, served.shipped.id)
        assert current.hash == found and current.revision == served.shipped.revision + 1
    assert "In use in 3 of 3 yards" in text_of(visit(served, "Programme").get("/checklists"))


def test_nothing_changes_in_a_yard_before_its_lead_decides(served):
    found = offer(served)
    with list_stores(served)["north.example"].reading() as connection:
        assert get_current_checklist(connection, served.shipped.id).hash == served.shipped.hash
    trainer = visit(served, "North", "trainer")
    assert trainer.get(f"/yard/offered-checklists/{found}").status_code == 403
    assert (
        browse(served, "north.example").get(f"/yard/offered-checklists/{found}").status_code == 401
    )
    assert "waits for its lead" in text_of(visit(served, "Programme").get("/checklists"))


def test_a_yard_declines_with_a_reason_that_the_programme_sees(served):
    found = offer(served)
    lead = visit(served, "South")
    page = f"/yard/offered-checklists/{found}"
    assert lead.post(page, data={"action": "decline", "reason": " "}).status_code == 400
    lead.post(page, data={"action": "decline", "reason": "our liner differs"})
    assert "our liner differs" in text_of(visit(served, "Programme").get("/checklists"))
    assert lead.get(page).status_code == 404


def test_a_yard_with_a_newer_revision_of_its_own_cannot_take_an_older_offer(served):
    found = offer(served)
    newer = Checklist.from_compiled(
        {**served.shipped.compiled(), "revision": served.shipped.revision + 4}
    )
    with list_stores(served)["west.example"].writing() as connection:
        publish_checklist(connection, newer, origin="yard", now="2026-11-20T00:00:00.000Z")
    answer = visit(served, "West").post(
        f"/yard/offered-checklists/{found}", data={"action": "take"}
    )
    assert answer.status_code == 409 and "offer it again" in answer.text
    # The next offer has a number that is new in every yard.
    assert offer(served) != found


def test_a_checklist_with_an_error_is_offered_to_nobody(served):
    lead = visit(served, "Programme")
    answer = lead.post(
        "/checklists/look", files={"file": ("own.yaml", b"id: stove\nrevision: 1\n")}
    )
    assert answer.status_code == 422 and "cannot be offered" in text_of(answer)
    assert lead.post("/checklists/look", data={"used": ""}).status_code == 400
    assert (
        lead.post("/checklists/look", files={"file": ("own.yaml", b"\xff\xfe\x00")}).status_code
        == 400
    )


def test_a_yard_that_cannot_be_written_is_named_and_hides_no_other(served, monkeypatch):
    real = roll_out_checklist.checklist_offers.save_offer
    calls = []

    def fail_once(*given, **more):
        calls.append(1)
        if len(calls) == 1:
            raise StoreError("the database refused the change", "north", "free disk space")
        real(*given, **more)

    monkeypatch.setattr(roll_out_checklist.checklist_offers, "save_offer", fail_once)
    offer(served)
    text = text_of(visit(served, "Programme").get("/checklists"))
    assert "it could not be reached: offer it again" in text
    assert text.count("waits for its lead") == 2
