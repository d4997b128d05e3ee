"""What a buyer gets behind a link: the page, the files, the check, the answer;
and what nobody gets.
"""

import csv
import hashlib
import io
import json
import zipfile
from datetime import timedelta

import pytest
from pypdf import PdfReader
from sqlalchemy import insert, update

from qcapp.access.signing import check_proof, sign_document
from qcapp.access.summary_links import make_summary_link
from qcapp.checklist.model import Checklist
from qcapp.documents.summary_head_texts import TRANSLATION_NOTE
from qcapp.i18n.active_locale import use_locale
from qcapp.i18n.catalogue import list_languages, load_locale
from qcapp.reports.summary_messages import (
    CHANGED_RECHECK,
    NO_RECHECK,
    RECHECK,
    RECHECK_FAILED,
)
from qcapp.store import log
from qcapp.store.registry.batches import get_batch, save_batches
from qcapp.store.registry.checklists import publish_checklist
from qcapp.store.tables import PHOTO as PHOTO_TABLE
from qcapp.store.tables import SUMMARY
from qcapp.web.buyer.summary_view import load_texts
from qcapp.web.middleware.language import COOKIE
from tests.builders import NOW, open_yard
from tests.documents.samples import KEY, load_earlier_shape
from tests.page_text import drop_random, text_of
from tests.reports.views import read_xlsx
from tests.web.test_batch_review import issue, post

PHOTO = b"\xff\xd8\xff\xe0 a picture of a dent"
SHA256 = hashlib.sha256(PHOTO).hexdigest()
PRIVATE = {
    "cache-control": "no-store",
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
}


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    """Twenty stoves: one conceded with a photo, one scrapped with a photo, one mended;
    summary 1 issued.
    """
    yard = open_yard(tmp_path_factory.mktemp("key"))
    good = (yard.phone.inspect(f"B1-{n:03}") for n in range(4, 21))
    conceded = with_photo(yard, "B1-001", SHA256, dents="fail", disposition="concession")
    scrapped = with_photo(yard, "B1-002", "ab" * 32, edge="fail", disposition="scrap")
    yard.push(
        conceded, scrapped, yard.phone.inspect("B1-003", width="106", disposition="rework"), *good
    )
    yard.push(yard.phone.inspect("B1-003", at="2026-11-24T12:00:00.000Z"))
    with yard.store.writing() as connection:
        names = ("sha256", "size", "is_whole", "content")
        photos = ((SHA256, len(PHOTO), True, PHOTO), ("ab" * 32, 1, True, b"x"))
        connection.execute(
            insert(PHOTO_TABLE), [dict(zip(names, photo, strict=True)) for photo in photos]
        )
    issue(yard)
    return yard


def with_photo(yard, serial, sha256, **change):
    event = yard.phone.inspect(serial, **change)
    event["body"]["answers"]["dents"]["photos"] = [sha256]
    return yard.phone.seal(
        "inspection", serial, event["body"], photos=[sha256], at=event["captured_at"]
    )


def make_address(yard):
    """The page of a link for the first buyer."""
    token = make_summary_link(
        yard.store, batch="B1", label="First buyer", made_by="lead", days=90, now=NOW
    )
    return f"/s/{token}"


@pytest.fixture(scope="module")
def address(yard):
    return make_address(yard)


def test_page_answers_on_one_screen(yard, address):
    page = text_of(yard.client.get(address))
    for words in (
        "Accept Every one of the 20 stoves was inspected; 19 are released, 18 with no open fault.",
        "What became of the 20 stoves 17 Released at the first inspection 1 Released later",
        "You may take these stoves.",
        "Released for delivery 19 stoves",
        "Inspected 2026-11-24",
        "Good at the first inspection: 17 of 20 fully inspected: 85 % (64 % to 95 %)",
        "What the first inspection found Good 17 Faulty 3 Inspected 20",
        (
            "Released at the first inspection 17 Released later, after rework or a hold 1 "
            "Released by concession 1 Scrapped 1 Waiting for rework 0 Held 0 Inspected 20"
        ),
        "nothing here depends on a sample",
        "door-opening-width",
        (
            "1 of 20 outside the limits. Smallest 100, median 100, largest 106 mm, target 100; tool"
            " uncertainty ±1 mm."
        ),
        "B1-001 not named dents · minor as agreed",
        "small-stove revision 1",
        "I01 (20 stoves)",
        "not a safety certificate",
    ):
        assert words in page, words


def test_wilson_interval_on_the_page_is_the_published_one(yard, address):
    """17 of 20: 0.6396 to 0.9476 (Newcombe 1998, method 3, worked by hand with z = 1.959964)."""
    first_pass = yard.client.get(f"{address}/summary.json").json()["summary"]["first_pass"]
    assert (first_pass["low"], first_pass["high"]) == ("0.6396", "0.9476")


def test_buyer_sees_no_maker_and_no_way_into_the_yard(yard, address):
    for path in ("", "/verify", "/summary.json", "/stoves.csv", "/readings.csv"):
        text = drop_random(yard.client.get(address + path))
        assert (
            "A01" not in text
            and "Ano" not in text
            and 'href="/batches' not in text
            and 'href="/trainer' not in text
        ), path


@pytest.mark.parametrize(
    "path",
    [
        "",
        "/verify",
        "/summary.json",
        "/summary.pdf",
        "/stoves.csv",
        "/readings.csv",
        "/tables.xlsx",
        f"/photos/{SHA256}",
    ],
)
def test_every_answer_behind_the_link_is_private(yard, address, path):
    answer = yard.client.get(address + path)
    assert answer.status_code == 200, answer.text
    assert {name: answer.headers[name] for name in PRIVATE} == PRIVATE


def test_unknown_expired_and_revoked_links_look_the_same(yard):
    old = make_summary_link(
        yard.store, batch="B1", label="Old", made_by="lead", days=1, now=NOW - timedelta(days=1)
    )
    gone = make_summary_link(yard.store, batch="B1", label="Gone", made_by="lead", days=90, now=NOW)
    with yard.store.reading() as connection:
        no = connection.exec_driver_sql("SELECT max(no) FROM summary_link").scalar()
    assert yard.client.get(f"/s/{gone}").status_code == 200
    assert post(yard, f"links/{no}/revoke").status_code == 303
    pages = [
        yard.client.get(f"/s/{token}{path}")
        for token in ("x" * 43, "y" * 500, old, gone)
        for path in ("", "/summary.json", "/verify")
    ]
    assert {page.status_code for page in pages} == {404}
    assert (
        len({page.text for page in pages}) == 1
        and "ask the yard for a new one" in pages[0].text.lower()
    )
    assert {name: pages[0].headers[name] for name in PRIVATE} == PRIVATE
    assert post(yard, f"links/{no}/revoke").status_code == 404, "revoked once"


def test_link_of_one_batch_cannot_be_taken_back_from_another(yard, address):
    answer = yard.client.post("/batches/B0/links/1/revoke")
    assert answer.status_code == 404 and yard.client.get(address).status_code == 200


def test_every_opening_is_written_down_with_its_time(yard):
    token = make_summary_link(
        yard.store, batch="B1", label="Counted", made_by="lead", days=90, now=NOW
    )
    yard.client.get(f"/s/{token}")
    yard.client.get(f"/s/{token}/summary.json")
    page = text_of(yard.client.get("/batches/B1"))
    assert (
        "Counted : valid until 2027-02-23 09:00 UTC; opened 2 times, last 2026-11-25 09:00 UTC"
        in page
    )
    assert "2026-11-25 09:00 UTC, Counted: JSON" in page


def test_only_photos_of_concessions_are_served(yard, address):
    assert yard.client.get(f"{address}/photos/{SHA256}").content == PHOTO
    for sha256 in ("ab" * 32, "cd" * 32, "x"):
        assert yard.client.get(f"{address}/photos/{sha256}").status_code == 404
    assert f'src="{address}/photos/{SHA256}"' in yard.client.get(address).text


def test_pdf_is_of_the_same_summary_and_leads_to_the_check(yard, address):
    pdf = yard.client.get(f"{address}/summary.pdf")
    assert pdf.headers["content-type"] == "application/pdf"
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf.content)).pages)
    assert "Batch B1" in text and "Accept" in text


@pytest.mark.parametrize(("language", "title"), [("fr", "Lot B1"), ("pt", "Lote B1")])
def test_page_and_pdf_speak_the_chosen_language_and_say_that_the_english_is_signed(
    yard, address, language, title
):
    signed = " ".join(load_locale(language).translate(TRANSLATION_NOTE).split())
    page = text_of(yard.client.get(f"{address}?language={language}"))
    assert title in page and signed in page and "Every one of the 20 stoves" not in page
    pdf = yard.client.get(f"{address}/summary.pdf?language={language}")
    text = " ".join(
        " ".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(pdf.content)).pages).split()
    )
    assert title in text and signed[:40] in text and "Every one of the 20 stoves" not in text
    yard.client.cookies.delete(COOKIE)
    english = yard.client.get(address)
    assert "Batch B1" in english.text and "translation" not in english.text


def test_signed_file_is_the_same_to_the_byte_in_every_language(yard, address):
    for path in (f"{address}/summary.json?number=1", "/batches/B1/summaries/1.json"):
        files = {
            yard.client.get(path, headers={"Accept-Language": language}).content
            for language in list_languages()
        }
        assert len(files) == 1 and check_proof(json.loads(files.pop())) == []


def test_words_that_were_typed_are_shown_as_typed_even_where_they_are_ours(tmp_path):
    ours = "Every stove was scrapped; none is left to accept."
    yard = open_yard(tmp_path)
    yard.push(*(yard.phone.inspect(f"B1-{n:03}") for n in range(20)))
    assert post(yard, "decision", final="reject", reason=ours).status_code == 303
    issue(yard)
    address = make_address(yard)
    yard.client.post(
        f"{address}/answer", data={"number": 1, "answer": "question", "note": ours, "by": "Buyer"}
    )
    assert load_locale("fr").gettext(ours) != ours
    assert yard.client.get(address, headers={"Accept-Language": "fr"}).text.count(ours) == 2


def test_texts_of_the_checklist_come_in_the_readers_language(yard):
    compiled = yard.checklist.compiled()
    compiled["parts"][0]["title"]["fr"] = "Bord"
    spoken = Checklist.from_compiled({**compiled, "revision": 2})
    with yard.store.writing() as connection:
        publish_checklist(connection, spoken, origin="phone", now="2026-11-25T00:00:00.000Z")
    document = {
        "checklist": {"hash": spoken.hash},
        "other_checklists": [{"hash": yard.checklist.hash}, {"hash": "not kept here"}],
    }
    with use_locale(load_locale("fr")):
        assert load_texts(yard.store, document) == {"Edge": "Bord"}


def test_tables_hold_stoves_and_readings_without_makers_and_with_formulas_disarmed(yard, address):
    rows = list(
        csv.DictReader(
            io.StringIO(yard.client.get(f"{address}/readings.csv").content.decode("utf-8-sig"))
        )
    )
    assert len(rows) == 63 and "artisan" not in rows[0]
    units = {(row["check"], row["unit"]) for row in rows if row["value"]}
    assert units == {("door-opening-width", "mm")}, "no value without its unit"
    stoves = list(
        csv.DictReader(
            io.StringIO(yard.client.get(f"{address}/stoves.csv").content.decode("utf-8-sig"))
        )
    )
    assert [row["disposition"] for row in stoves[:4]] == [
        "concession",
        "scrap",
        "release",
        "release",
    ] and stoves[0]["has_first_pass_fail"] == "yes"
    with zipfile.ZipFile(io.BytesIO(yard.client.get(f"{address}/tables.xlsx").content)) as book:
        assert "<f>" not in "".join(
            book.read(name).decode()
            for name in book.namelist()
            if name.startswith("xl/worksheets/")
        )
    assert yard.client.get(f"{address}/people.csv").status_code == 404


def test_server_finds_an_issued_summary_as_it_was(yard, address):
    page = yard.client.get(f"{address}/verify").text
    assert page.count(">good<") == 3 and "NOT GOOD" not in page


@pytest.mark.parametrize(
    ("change", "words", "french"),
    [
        (
            "UPDATE summary SET proof = replace(proof, '\"good\": 18', '\"good\": 19')",
            "counts.good: is not what was signed",
            "counts.good\u00a0: n’est pas ce qui a été signé",
        ),
        (
            "UPDATE log SET chain = 'ff' || substr(chain, 3) WHERE kind = 'inspection'",
            "the running hash there is different now",
            "l’empreinte chaînée y est maintenant une autre",
        ),
        (
            (
                'UPDATE log SET raw = replace(raw, \'"inspector":"LEAD"\','
                " '\"inspector\":\"someone\"') WHERE kind = 'summary'"
            ),
            "the record does not match its hash",
            "l’enregistrement ne correspond pas à son empreinte",
        ),
    ],
)
def test_altered_row_is_found_by_the_check(tmp_path, change, words, french):
    yard = open_yard(tmp_path)
    yard.push(*(yard.phone.inspect(f"B1-{n:03}") for n in range(18)))
    issue(yard)
    token = make_summary_link(yard.store, batch="B1", label="x", made_by="lead", days=9, now=NOW)
    address = f"/s/{token}"
    with yard.store.writing() as connection:
        assert connection.exec_driver_sql(change).rowcount > 0
    page = yard.client.get(f"{address}/verify").text
    assert "NOT GOOD" in page and words in page
    assert french in yard.client.get(f"{address}/verify", headers={"Accept-Language": "fr"}).text


def own_yard(tmp_path, stoves=20):
    yard = open_yard(tmp_path)
    yard.push(*(yard.phone.inspect(f"B1-{n:03}") for n in range(stoves)))
    issue(yard)
    return yard, make_address(yard)


def test_buyers_answer_is_a_record_and_the_lead_sees_it(tmp_path):
    yard, address = own_yard(tmp_path)
    answer = yard.client.post(
        f"{address}/answer",
        data={"number": 1, "answer": "question", "note": "<b>Which</b> paint?", "by": "Buyer"},
    )
    assert answer.status_code == 200 and "Has a question" in text_of(answer)
    with yard.store.reading() as connection:
        (row,) = log.list_server_events(connection, ("buyer_answer",), "B1")
    body = json.loads(row.raw)["body"]
    assert (
        body["answer"] == "question" and body["link"] == "First buyer" and len(body["sha256"]) == 64
    )
    lead = yard.client.get("/batches/B1").text
    assert "&lt;b&gt;Which&lt;/b&gt; paint?" in lead and "<b>Which" not in lead


@pytest.mark.parametrize(
    "form",
    [
        {"answer": "reject", "note": " "},
        {"answer": "question"},
        {"answer": "maybe", "note": "x"},
        {"answer": "accept", "by": " "},
        {"answer": "accept", "number": 7},
    ],
)
def test_answer_that_says_nothing_is_refused(tmp_path, form):
    yard, address = own_yard(tmp_path, 2)
    answer = yard.client.post(f"{address}/answer", data={"number": 1, "by": "Buyer", **form})
    assert answer.status_code in (400, 404, 422)
    with yard.store.reading() as connection:
        assert log.list_server_events(connection, ("buyer_answer",), "B1") == []


def test_recheck_stands_beside_the_yards_figure_in_the_next_summary(tmp_path):
    yard, address = own_yard(tmp_path)
    assert (
        yard.client.post(
            f"{address}/recheck",
            data={"number": 1, "n": 10, "failed": 4, "note": "dents", "by": "Buyer"},
        ).status_code
        == 200
    )
    assert "Re-check: 4 of 10 not as agreed" in text_of(yard.client.get("/batches/B1"))
    document = issue(yard)["summary"]
    recheck = document["recheck"]
    assert {
        "what": CHANGED_RECHECK().to_json(),
        "before": NO_RECHECK().to_json(),
        "after": RECHECK_FAILED(failed=4, of=10).to_json(),
    } in document["changes"]
    assert (
        recheck["failed"],
        recheck["n"],
        recheck["yard_failed"],
        recheck["yard_n"],
        recheck["difference"],
    ) == (4, 10, 0, 20, "0.4000")
    # Newcombe 1998, method 10: 0.4 - sqrt((0.4 - 0.1682)^2 + 0.1611^2); Fisher: 210 tables of
    # 27,405 (scipy agrees).
    assert recheck["low"] == "0.1177" and recheck["wrote"] == "dents"
    assert recheck["note"] == RECHECK(what="concessions", judged="more", p="0.008").to_json()


@pytest.mark.parametrize(("n", "failed"), [(3, 4), (21, 0), (0, 0), (2, -1)])
def test_recheck_that_cannot_be_is_refused(tmp_path, n, failed):
    yard, address = own_yard(tmp_path)
    assert yard.client.post(
        f"{address}/recheck", data={"number": 1, "n": n, "failed": failed, "by": "Buyer"}
    ).status_code in (400, 422)


def test_older_version_says_so_and_late_records_are_told(tmp_path):
    yard, address = own_yard(tmp_path, 19)
    yard.push(yard.phone.inspect("B1-099"))
    assert "Records have arrived since" in text_of(yard.client.get(address))
    issue(yard)
    assert "This is not the newest summary" in text_of(yard.client.get(f"{address}?number=1"))
    newest = text_of(yard.client.get(address))
    assert "What changed since summary 1" in newest and "decision Before: " not in newest
    assert yard.client.get(f"{address}?number=3").status_code == 404


def test_summary_tells_order_signatory_and_claims_as_they_stood_when_it_was_issued(tmp_path):
    yard, address = own_yard(tmp_path)
    told = {"signatory": "Odri Vask", "signatory_role": "yard lead", "contact": "by telephone"}
    assert yard.client.post("/yard/buyers", data={**told, "claims": "Ask\nus."}).status_code == 200
    with yard.store.writing() as connection:
        batch = get_batch(connection, "B1")
        order = {"order_no": "PO 7", "contract_no": "K1", "ordered": 25}
        save_batches(connection, [{**batch, **order}])
    document = issue(yard)["summary"]
    assert document["order"] == {
        "number": "PO 7",
        "contract": "K1",
        "ordered": 25,
        "released": 20,
        "inspected_from": "2026-11-24",
        "inspected_to": "2026-11-24",
    }
    assert {row["what"]["code"] for row in document["changes"]} == {
        "changed_order",
        "changed_signatory",
    }
    yard.client.post("/yard/buyers", data={**told, "signatory": "Somebody Else"})
    page = text_of(yard.client.get(address))
    for words in (
        "Order PO 7 Contract K1 Ordered 25 stoves Released for delivery 20 stoves 5 fewer than",
        "Answers for it Odri Vask yard lead",
        "How to claim Ask us. Ask: by telephone",
    ):
        assert words in page, words
    assert "Somebody Else" not in page


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"signatory": "x" * 81}, "at most 80 characters"),
        ({"claims": "x" * 1001}, "at most 1000 characters"),
        ({"signatory": "", "signatory_role": "yard lead"}, "A role needs a name."),
    ],
)
def test_what_buyers_read_is_refused_where_it_does_not_fit(yard, change, says):
    answer = yard.client.post("/yard/buyers", data={"signatory": "Odri Vask", **change})
    assert answer.status_code == 400 and says in text_of(answer)
    assert "Odri Vask" not in yard.client.get("/yard/buyers").text


def test_an_answer_is_chosen_beforehand_by_the_button_that_was_pressed(yard, address):
    page = yard.client.get(f"{address}?say=question").text
    assert 'value="question" required checked' in page and page.count(" required checked") == 1
    assert " required checked" not in yard.client.get(f"{address}?say=other").text


def test_file_names_say_yard_batch_and_number(yard, address):
    for path, name in (
        ("summary.pdf", "test-yard-B1-summary-1.pdf"),
        ("summary.json", "test-yard-B1-summary-1.json"),
        ("tables.xlsx", "test-yard-B1-summary-1.xlsx"),
        ("stoves.csv", "test-yard-B1-stoves.csv"),
    ):
        given = yard.client.get(f"{address}/{path}").headers["content-disposition"]
        assert given == f'attachment; filename="{name}"'
    for path in ("tables/teach.csv", "tables.xlsx"):
        given = yard.client.get(f"/trainer/{path}").headers["content-disposition"]
        assert 'filename="test-yard-t' in given, "files of several yards lie in one folder"


def test_spreadsheet_has_the_summary_units_in_heads_and_real_dates(yard, address):
    content = yard.client.get(f"{address}/tables.xlsx").content
    sheets = read_xlsx(content)
    assert list(sheets) == ["summary", "stoves", "measured", "readings"]
    summary = {row["what"]: row["value"] for row in sheets["summary"]}
    assert summary["Batch"] == "B1" and summary["Decision"] == "Accept"
    assert summary["Released for delivery, stoves"] == "19" and summary["minor, faults"] == "1"
    # Days are counted from 1899-12-30: 2026-11-25 is day 46351 (ISO 8601 day of the year 329,
    # and 2026-01-01 is 46023, as ECMA-376 part 1, 18.17.4 counts them).
    assert float(summary["Issued, UTC"]) == pytest.approx(46351 + 9 / 24)
    assert {row["door-opening-width, mm"] for row in sheets["measured"]} == {"100", "106"}
    assert float(sheets["stoves"][0]["last_at, UTC"]) > 46000
    with zipfile.ZipFile(io.BytesIO(content)) as book:
        assert "yyyy-mm-dd hh:mm" in book.read("xl/styles.xml").decode()


def test_a_summary_issued_before_orders_and_serials_still_shows_everywhere(tmp_path):
    yard, address = own_yard(tmp_path, 2)
    earlier = json.dumps(sign_document(KEY, load_earlier_shape()))
    with yard.store.writing() as connection:
        connection.execute(update(SUMMARY).values(proof=earlier))
    page = text_of(yard.client.get(address))
    assert "Batch H2" in page and "Reject" in page and "What became of the 60 stoves" in page
    assert "Answers for it" not in page and "What was checked" not in page
    assert "This summary lists no serials" in text_of(yard.client.get(f"{address}/recheck"))
    for path in ("summary.pdf", "tables.xlsx", "summary.json"):
        answer = yard.client.get(f"{address}/{path}")
        assert answer.status_code == 200 and answer.content, path
    assert check_proof(json.loads(answer.content)) == []
