"""The yard lead's page of records held back."""

import json
import re

import pytest

from qcapp.store.registry import batches
from tests.builders import Phone, open_yard
from tests.page_text import text_of
from tests.store.test_projections import dump

WHO = {"reason": "asked Ciro"}


@pytest.fixture
def yard():
    return open_yard()


def decide(yard, seq, headers=None, **fields):
    seen = re.search(
        r'name="seen" value="([^"]*)"', yard.client.get(f"/yard/quarantine/{seq}").text
    )[1]
    return yard.client.post(
        f"/yard/quarantine/{seq}", data={"seen": seen, **WHO, **fields}, headers=headers
    )


def test_lead_reads_what_why_who_and_when(yard):
    yard.push(
        yard.phone.inspect(
            "B1-001", maker="A77", width="103", dents="fail", disposition="concession"
        )
    )
    assert "1 record waits for your decision" in text_of(yard.client.get("/yard"))
    page = text_of(yard.client.get("/yard/quarantine"))
    assert (
        "unknown artisan: A77" in page
        and "stove B1-001" in page
        and "from Phone, received 2026-11-25 09:00 UTC" in page
    )
    page = text_of(yard.client.get("/yard/quarantine/1"))
    for said in (
        "Stove B1-001 (finished)",
        "Ciro (I01)",
        "A77 (not known here)",
        "Turn the edge",
        "door-opening-width 103 mm doubtful",
        "concession: as agreed",
    ):
        assert said in page, said


def test_faults_are_cards_with_place_figures_photo_maker_and_what_to_do(yard):
    record = yard.phone.inspect("B1-001", maker="A77", width="106", disposition="rework")
    body = record["body"]
    photo = "a" * 64
    wide = {
        **body["answers"]["door-opening-width"],
        "fault": "too-large",
        "more_faults": ["bad"],
        "place": [500, 250],
        "photos": [photo],
        "note": "at the sill",
    }
    answers = {**body["answers"], "door-opening-width": wide}
    rework = {"door-opening-width": "A02"}
    yard.push(
        yard.phone.seal(
            "inspection",
            "B1-001",
            {**body, "answers": answers, "reworked_by": rework},
            at="2026-11-24T08:00:00.000Z",
            photos=[photo],
        )
    )
    page = yard.client.get("/yard/quarantine/1").text
    (card,) = re.findall(r'<li class="fault-card">.*?</li>\s*</ul>\s*<div', page, re.DOTALL)
    assert 'class="part failed"' in card and 'class="place"' in card and "id=" not in card
    shown = text_of(card)
    for said in (
        "Too large · Bad",
        "major",
        "106 mm wanted 97 to 103 mm",
        "3 mm too much",
        "at the sill",
        "Cut the door opening: A77 (not known here)",
        "Bring it to 97 to 103 mm",
        "Photo on its way",
    ):
        assert said in shown, (said, shown)
    assert "door-opening-width: Beda (A02)" in text_of(page), "who repaired it"
    assert text_of(page).count("Photo on its way") == 1


def test_lead_lets_it_count_under_another_name_and_undoes_it(yard):
    yard.push(yard.phone.inspect("B1-001", maker="A77"))
    done = decide(yard, 1, action="accept", **{"artisan.A77": "A02"})
    assert (
        done.status_code == 200
        and "It counts by decision of LEAD" in text_of(done)
        and "Artisan A77 is A02" in text_of(done)
    )
    assert len(dump(yard.store)[0]) == 1
    assert "Waiting for a decision: 0" in text_of(yard.client.get("/yard/quarantine"))
    done = decide(yard, 1, action="reject", reason="it was another stove")
    assert "It is rejected" in text_of(done) and dump(yard.store) == ([], [], [], [])


def test_refusal_stands_on_the_page_with_what_was_chosen(yard):
    yard.push(yard.phone.inspect("B1-001", maker="A77", batch="B9"))
    refused = decide(yard, 1, action="accept", **{"artisan.A77": "A02"})
    assert (
        refused.status_code == 400
        and "Nothing was changed: it would still not count: unknown batch: B9" in text_of(refused)
    )
    assert re.search(r'value="A02" selected', refused.text) and 'value="asked Ciro"' in refused.text
    assert dump(yard.store) == ([], [], [], [])


def test_batch_that_is_meant_is_chosen_from_the_list_or_typed(yard):
    yard.push(yard.phone.inspect("B1-001", batch="B9"))
    with yard.store.writing() as connection:
        newer = batches.get_batch(connection, "B1")
        batches.save_batches(
            connection,
            [
                {**newer, "code": f"N{n}", "opened_on": "2026-11-20", "closed_at": "2026-11-21"}
                for n in range(batches.MAX_CLOSED)
            ]
            + [{**newer, "code": "OLD", "opened_on": "2015-01-05"}],
        )
        connection.execute(
            batches.BATCH.update()
            .where(batches.BATCH.c.code == "OLD")
            .values(closed_at="2099-01-01")
        )
    page = yard.client.get("/yard/quarantine/1").text
    assert re.search(r'<input id="m-batch-1" name="batch.B9" list="batches"', page)
    assert '<option value="N7">' in page and '<option value="OLD">' not in page
    refused = decide(yard, 1, action="accept", **{"batch.B9": "B777"})
    assert "B9 cannot be changed to B777" in text_of(refused)
    assert 'name="batch.B9"' in refused.text and 'value="B777"' in refused.text
    decide(yard, 1, action="accept", **{"batch.B9": "OLD"})
    assert "It counts" in text_of(yard.client.get("/yard/quarantine/1"))


@pytest.mark.parametrize(("field", "text"), [("reason", " "), ("reason", "x" * 501)])
def test_decision_needs_a_reason(yard, field, text):
    yard.push(yard.phone.inspect("B1-001", maker="A77"))
    refused = decide(yard, 1, action="reject", **{field: text})
    assert refused.status_code == 400 and f"{field} is missing" in text_of(refused)


def test_second_click_is_told_that_it_is_decided(yard):
    yard.push(yard.phone.inspect("B1-001", maker="A77"))
    decide(yard, 1, action="reject")
    again = yard.client.post("/yard/quarantine/1", data={"seen": "", "action": "reject", **WHO})
    assert again.status_code == 409 and "in the meantime" in text_of(again)


def test_conflict_shows_both_contents(yard):
    yard.push(yard.phone.inspect("B1-001"))
    yard.push(Phone(yard.checklist).inspect("B1-001", dents="fail", disposition="rework"))
    page = text_of(yard.client.get("/yard/quarantine/2"))
    assert (
        "The content that came first" in page
        and "What happened to it rework differs" in page
        and "What happened to it release differs" in page
    )
    assert "dents fail differs" in page and "sharp-edge pass pass" in page
    done = decide(yard, 2, action="accept")
    assert done.status_code == 200 and dump(yard.store)[0][0].disposition == "rework"


def test_junk_and_markup_are_shown_as_text(yard):
    event = yard.phone.inspect("B1-001", batch="B9")
    event["body"]["answers"]["dents"]["note"] = "<script>alert(1)</script>"
    junk = json.dumps(
        [
            yard.phone.seal("inspection", "<script>x", event["body"], batch="<b>"),
            7,
            {"id": "\ud800", "stove": "<i>"},
        ]
    )
    body = f'{{"protocol": 1, "request_id": "r", "events": {junk}}}'
    assert yard.client.post("/api/sync/push", content=body, headers=yard.headers).status_code == 200
    for address in (
        "/yard/quarantine",
        "/yard/quarantine/1",
        "/yard/quarantine/2",
        "/yard/quarantine/3",
    ):
        answer = yard.client.get(address)
        assert answer.status_code == 200 and not re.search(
            r"<script>(?!</)|<b>|<i>", answer.text
        ), address
    assert "Let it count" not in yard.client.get("/yard/quarantine/2").text


def test_form_of_another_site_changes_nothing(yard):
    yard.push(yard.phone.inspect("B1-001", maker="A77"))
    refused = decide(yard, 1, headers={"Sec-Fetch-Site": "cross-site"}, action="reject")
    assert refused.status_code == 403 and "did not come from a page" in text_of(refused)
    assert "Waiting for a decision: 1" in text_of(yard.client.get("/yard/quarantine"))
    assert (
        decide(yard, 1, headers={"Sec-Fetch-Site": "same-origin"}, action="reject").status_code
        == 200
    )


@pytest.mark.parametrize("seq", ["9", "0", "-1", "x", "99999999999999999999"])
def test_number_that_is_no_record_set_aside_is_said_plainly(yard, seq):
    answer = yard.client.get(f"/yard/quarantine/{seq}")
    assert answer.status_code in (404, 422) and "Back to the start" in answer.text
