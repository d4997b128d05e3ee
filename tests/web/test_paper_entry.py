"""Typing in a filled sheet: same judge, same figures as a phone, nothing typed is lost,
nothing counts twice.
"""

import io
import json
from datetime import timedelta

import pytest
from pypdf import PdfReader
from sqlalchemy import select

from qcapp.checklist.model import Checklist
from qcapp.inspection.filters import Filters
from qcapp.inspection.serial import CHECKED, build_tag_serial
from qcapp.store import log
from qcapp.store.projections.stove_projection import rebuild
from qcapp.store.queries import batch_figures, trainer_queries
from qcapp.store.registry import batches, checklists
from qcapp.store.tables import STOVE
from qcapp.sync import paper
from qcapp.sync.server_events import record_server_event
from tests.builders import BATCHES, NOW, build_small_checklist, open_yard
from tests.page_text import drop_marks, text_of
from tests.web.test_two_checklists import build_liner
from tests.web.typist import Typist

ADDRESS = "/yard/entry?batch=B1&checklist=small-stove"
ABOUT = {"day": "2026-11-24", "offset": "+00:00", "inspector": "I01"}
GOOD = {
    "cell-sharp-edge-{0}-0": "p",
    "cell-door-opening-width-{0}-0": "100",
    "cell-dents-{0}-0": "p",
}


@pytest.fixture
def yard():
    return open_yard()


def fill(index=0, serial="B1-001", **change) -> dict:
    cells = {name.format(index): text for name, text in GOOD.items()}
    short = {
        "edge": "cell-sharp-edge-{0}-0",
        "width": "cell-door-opening-width-{0}-0",
        "dents": "cell-dents-{0}-0",
    }
    return {
        f"serial-{index}": serial,
        **cells,
        **{short.get(name, name + "-{0}").format(index): text for name, text in change.items()},
    }


def read_log(yard) -> list[dict]:
    """Records of stoves, each with its line of the trail."""
    with yard.store.reading() as connection:
        found = [
            json.loads(row.raw) | {"state": row.state} for row in log.list_after(connection, 0, 100)
        ]
    records = [event for event in found if event["kind"] != "trail"]
    assert bool(records) == (len(found) > len(records)), "a form shown again is no deed"
    return records


def enter(yard, *stoves: dict, address=ADDRESS, **about) -> Typist:
    typist = Typist(yard.client, address)
    typist.press(
        "review",
        **{**ABOUT, **about},
        **{name: text for stove in stoves for name, text in stove.items()},
    )
    return typist


def test_review_shows_verdicts_and_saves_nothing(yard):
    typist = enter(yard, fill(width="120", edge="fb"))
    text = text_of(typist.page)
    assert typist.page.status_code == 200 and not typist.wrong
    assert (
        "✗ Failed 2" in text
        and "door-opening-width: 120 mm (Too large)" in text
        and "sharp-edge (Bad) critical" in text
    )
    assert "✓ Passed 1 of 3" in text and typist.form["kind-0"] == "rework"
    assert read_log(yard) == []


def test_figures_are_those_of_the_same_inspection_from_a_phone():
    paper, phone = open_yard(), open_yard()
    cases = [
        ("B1-001", {}, {}),
        ("B1-002", {"width": "120"}, {"door-opening-width": "too-large"}),
        ("B1-003", {"width": "103,0"}, {}),
        ("B1-004", {"edge": "fb"}, {"sharp-edge": "bad"}),
        ("B1-005", {"dents": "fa"}, {"dents": "too-large"}),
    ]
    sheet = {}
    for index, (serial, change, faults) in enumerate(cases):
        sheet |= fill(index, serial, **change) | {
            f"time-{index}": "08:00",
            f"crew-metalwork-{index}": "A02",
        }
        marks = {
            name: "fail" if text.startswith("f") else text.replace(",", ".")
            for name, text in change.items()
        }
        body = phone.phone.inspect(
            serial, disposition="rework" if faults else "release", maker="A02", **marks
        )["body"]
        answers = {
            name: {**answer, **({"fault": faults[name]} if name in faults else {})}
            for name, answer in body["answers"].items()
        }
        phone.push(
            phone.phone.seal(
                "inspection", serial, {**body, "answers": answers}, at="2026-11-24T08:00:00.000Z"
            )
        )
    typist = enter(paper, sheet, address=f"{ADDRESS}&stoves=5")
    assert not typist.wrong, typist.wrong
    typist.press("save")
    assert typist.page.history and "Saved: B1-001: release, B1-002: rework" in text_of(typist.page)
    assert list_figures(paper) == list_figures(phone) and len(read_log(paper)) == 5


def list_figures(yard) -> list:
    with yard.store.reading() as connection:
        return [
            trainer_queries.list_step_tallies(connection, Filters(batch="B1")),
            batch_figures.list_check_tallies(connection, "B1", "small-stove"),
            batch_figures.list_fault_tallies(connection, "B1", "small-stove"),
            batch_figures.list_first_passes(connection, "B1", "small-stove"),
            *(
                [tuple(row) for row in rows]
                for rows in (
                    batch_figures.list_stove_states(connection, "B1"),
                    batch_figures.list_readings(connection, "B1"),
                    batch_figures.list_stoves(connection, "B1"),
                )
            ),
        ]


def test_record_is_an_event_of_the_server_that_tells_itself_from_a_phones(yard):
    enter(yard, fill(time="14:30", dents="p seen by daylight"), offset="+03:00").press("save")
    (event,) = read_log(yard)
    assert (
        event["state"] == "counted"
        and event["kind"] == "inspection"
        and event["device_id"] == "server"
        and event["inspector"] == "I01"
    )
    assert (event["batch"], event["stage"], event["stove"], event["checklist"]) == (
        "B1",
        "finished",
        "B1-001",
        "small-stove@1",
    )
    assert event["captured_at"] == "2026-11-24T11:30:00.000Z" and event["tz_min"] == 180
    body = event["body"]
    assert (body["source"], body["entered_by"], body["entered_at"]) == (
        "paper",
        "LEAD",
        "2026-11-25T09:00:00.000Z",
    )
    assert (
        body["answers"]["dents"] == {"mark": "pass", "note": "seen by daylight"}
        and body["verdicts"]["dents"] == "pass"
    )
    assert body["crew"] == {"turn-edge": "A01", "cut-door-opening": "A01"}, (
        "the batch's crew stands in the form"
    )
    with yard.store.writing() as connection:
        assert log.find_broken_link(connection) is None and rebuild(connection) == 1


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"width": "1o0"}, "cell-door-opening-width-0-0", "is not a number"),
        ({"width": "10,0,0"}, "cell-door-opening-width-0-0", "is not a number"),
        ({"width": "999"}, "cell-door-opening-width-0-0", "impossible"),
        ({"width": "90"}, "cell-door-opening-width-0-0", "letter of the fault: a Too large, b Bad"),
        ({"width": "90z"}, "cell-door-opening-width-0-0", "no fault 'z'"),
        ({"width": "100b"}, "cell-door-opening-width-0-0", "the check does not fail"),
        ({"edge": "x"}, "cell-sharp-edge-0-0", "is not an answer"),
        ({"edge": "f"}, "cell-sharp-edge-0-0", "letter of the fault"),
        ({"edge": "pa"}, "cell-sharp-edge-0-0", "is not an answer"),
        ({"edge": "n no edge"}, "cell-sharp-edge-0-0", "applies to every stove"),
        ({"dents": "n"}, "cell-dents-0-0", "n and the reason"),
        ({"width": "x"}, "cell-door-opening-width-0-0", "x and the reason"),
        ({"serial-0": ""}, "serial-0", "the serial is missing"),
        ({"day": "2026-11-26"}, "day", "future"),
        ({"day": "2026-11-25", "time-0": "23:00"}, "time-0", "future"),
        ({"day": "24.11.2026"}, "day", "write the day"),
        ({"time-0": "half two"}, "time-0", "14:30"),
        ({"time-0": "25:00"}, "time-0", "14:30"),
        ({"offset": "3"}, "offset", "+03:00"),
        ({"inspector": ""}, "inspector", "choose"),
        ({"inspector": "A01"}, "inspector", "choose"),
    ],
)
def test_mistake_is_marked_at_its_field_and_everything_typed_is_kept(yard, change, field, says):
    stove = fill(
        serial="B1-001",
        **{
            name: text
            for name, text in change.items()
            if "-" not in name and name in ("edge", "width", "dents")
        },
    )
    typed = {
        **ABOUT,
        **stove,
        **{name: text for name, text in change.items() if name not in ("edge", "width", "dents")},
    }
    typist = Typist(yard.client, ADDRESS).press("review", **typed)
    assert says in typist.wrong.get(field, ""), typist.wrong
    assert {name: typist.form[name] for name in typed if name != "inspector"} == {
        name: text for name, text in typed.items() if name != "inspector"
    }
    assert "nothing you typed is lost" in typist.page.text and read_log(yard) == []
    again = typist.press("save")
    assert field in again.wrong and read_log(yard) == [], "saving cannot go round the form"


def test_empty_cell_is_not_looked_at_and_cannot_be_released(yard):
    typist = enter(yard, fill(dents=""))
    assert "Not checked: 1" in text_of(typist.page) and typist.form["kind-0"] == "hold"
    typist.press("save", **{"kind-0": "release"})
    assert "choose what becomes" in typist.wrong["kind-0"] and read_log(yard) == []
    typist.press("save", **{"kind-0": "hold"})
    assert "write the reason" in typist.wrong["reason-0"] and read_log(yard) == []
    typist.press("save", **{"reason-0": "no light"})
    assert read_log(yard)[0]["body"]["disposition"] == {"kind": "hold", "reason": "no light"}


def test_critical_fault_offers_no_release_and_no_concession(yard):
    typist = enter(yard, fill(edge="fb", kind="concession", reason="agreed"))
    assert (
        'value="release"' not in typist.page.text and 'value="concession"' not in typist.page.text
    )
    assert "The sheet says concession. That is not possible" in text_of(typist.page)


def test_does_not_apply_needs_a_reason_and_gives_no_verdict(yard):
    typist = enter(yard, fill(dents="n no second coat ordered"))
    typist.press("save")
    assert set(typist.wrong) == {"kind-0"} and read_log(yard) == [], "nobody chose the release"
    typist.press("save", **{"kind-0": "release"})
    (event,) = read_log(yard)
    assert event["body"]["answers"]["dents"] == {
        "mark": "not_applicable",
        "note": "no second coat ordered",
    }
    assert event["body"]["verdicts"]["dents"] == "not_applicable" and event["body"][
        "disposition"
    ] == {"kind": "release"}


def test_save_pressed_twice_is_kept_once_and_a_second_look_must_be_said(yard):
    typist = enter(yard, fill())
    form = dict(typist.form)
    for _ in range(2):
        answer = yard.client.post("/yard/entry", data={**form, "do": "save"})
        assert "Saved: B1-001: release" in text_of(answer)
    assert len(read_log(yard)) == 1
    second = enter(yard, fill(dents="fa"))
    assert "The log has 1 inspection of this stove" in text_of(
        second.page
    ) and "would be inspection 2" in text_of(second.page)
    second.press("save")
    assert "another inspection of B1-001" in second.wrong["again-0"] and len(read_log(yard)) == 1
    second.press("save", **{"again-0": "yes"})
    assert len(read_log(yard)) == 2


@pytest.mark.parametrize("typed", ["b1 1", "B1-OO1", "Bl-001", "B1-1"])
def test_serial_typed_otherwise_is_another_look_at_the_same_stove(yard, typed):
    yard.push(yard.phone.inspect("B1-001", at="2026-11-23T08:00:00.000Z"))
    typist = enter(yard, fill(serial=typed))
    typist.press("save")
    assert set(typist.wrong) == {"again-0"}
    typist.press("save", **{"again-0": "yes"})
    assert [event["stove"] for event in read_log(yard)] == ["B1-001", typed]
    with yard.store.reading() as connection:
        (stove,) = connection.execute(select(STOVE.c.serial, STOVE.c.inspections))
    assert tuple(stove) == ("B1-001", 2), "shown as it was typed first"


@pytest.mark.parametrize("typed", ["B2-001", "1", "B1-9001"])
def test_serial_that_is_none_of_the_batch_must_be_said(yard, typed):
    typist = enter(yard, fill(serial=typed))
    typist.press("save")
    assert set(typist.wrong) == {"odd-0"} and read_log(yard) == []
    typist.press("save", **{"odd-0": "yes"})
    assert [event["stove"] for event in read_log(yard)] == [typed]


def test_second_look_takes_what_was_not_asked_again_from_the_first(yard):
    yard.push(
        yard.phone.inspect(
            "B1-001", dents="fail", disposition="rework", at="2026-11-23T08:00:00.000Z"
        )
    )
    typist = enter(yard, {"serial-0": "B1-001", "cell-dents-0-0": "p"})
    assert "✓ Passed 3 of 3" in text_of(typist.page) and typist.form["kind-0"] == "release"
    typist.press("save", **{"again-0": "yes"})
    event = read_log(yard)[-1]
    assert (
        list(event["body"]["answers"]) == ["dents"]
        and event["body"]["verdicts"]["sharp-edge"] == "missing"
    )


def test_sheet_older_than_the_phones_record_becomes_the_first_pass(yard):
    yard.push(yard.phone.inspect("B1-001", at="2026-11-25T08:00:00.000Z"))
    typist = enter(yard, fill(dents="fa"))
    assert "would be inspection 1" in text_of(typist.page)
    typist.press("save", **{"again-0": "yes"})
    with yard.store.reading() as connection:
        (found,) = batch_figures.list_first_passes(connection, "B1", "small-stove")
    assert {kind for kind, count in found.failed.items() if count} == {"minor"}


def test_serial_twice_on_a_form_is_marked(yard):
    typist = enter(yard, fill(0), fill(1), address=f"{ADDRESS}&stoves=5")
    assert "twice" in typist.wrong["serial-1"] and len(typist.wrong) == 1


def test_empty_columns_are_left_alone_and_answers_without_a_serial_are_not(yard):
    typist = enter(yard, fill(2, "B1-003"), address=f"{ADDRESS}&stoves=5")
    assert not typist.wrong and text_of(typist.page).count("✓ Passed") == 1
    typist = enter(yard, {"cell-dents-4-0": "p"}, address=f"{ADDRESS}&stoves=5")
    assert list(typist.wrong) == ["serial-4"]


def test_checked_batch_asks_for_the_check_character_and_records_the_plain_serial(yard):
    with yard.store.writing() as connection:
        batches.save_batches(
            connection, [{**BATCHES[0], "attributes": {"painted": False, CHECKED: True}}]
        )
    for typed in ("B1-001", "B1-002" + build_tag_serial("B1-001")[6:]):
        assert "serial-0" in enter(yard, fill(serial=typed)).wrong
    enter(yard, fill(serial=build_tag_serial("B1-001").lower())).press("save")
    assert [event["stove"] for event in read_log(yard)] == ["B1-001"]


def test_one_stove_that_must_not_count_keeps_the_whole_form_unsaved(yard):
    typist = enter(yard, fill(0), fill(1, "B1-002"), address=f"{ADDRESS}&stoves=5")
    with yard.store.writing() as connection:
        batches.save_batches(
            connection,
            [
                {
                    **BATCHES[0],
                    "closed_at": (NOW - timedelta(days=3)).strftime("%Y-%m-%dT%H:%M:%S.000Z"),
                }
            ],
        )
    typist.press("save")
    assert (
        typist.page.status_code == 400
        and "batch closed: B1" in text_of(typist.page)
        and "nothing you typed is lost" in typist.page.text
    )
    assert read_log(yard) == [] and typist.form["serial-1"] == "B1-002"


def test_sheet_of_an_older_revision_is_judged_by_its_own(yard):
    with yard.store.writing() as connection:
        checklists.publish_checklist(
            connection, build_small_checklist(2), origin="file", now="2026-11-20T00:00:00.000Z"
        )
    choice = yard.client.get("/yard/entry").text
    assert "revision 1" in choice and "revision 2" in choice
    enter(yard, fill(), address=f"/yard/entry?batch=B1&checklist={yard.checklist.hash}").press(
        "save"
    )
    assert read_log(yard)[0]["checklist"] == "small-stove@1"


@pytest.mark.parametrize("written", ["8:05", "08.05", "0805"])
def test_time_is_read_as_people_write_it(yard, written):
    enter(yard, fill(time=written)).press("save")
    assert read_log(yard)[0]["captured_at"] == "2026-11-24T08:05:00.000Z"


def test_morning_sheet_of_today_without_a_time_is_not_in_the_future(yard):
    enter(yard, fill(), day="2026-11-25").press("save")
    assert read_log(yard)[0]["captured_at"] == "2026-11-25T09:00:00.000Z"


def test_back_to_the_answers_shows_all_of_them(yard):
    typist = enter(yard, fill(width="120", dents="n <b>why</b>"))
    typist.press("change", **{"reason-0": "bent"})
    assert (
        typist.form["cell-door-opening-width-0-0"] == "120"
        and typist.form["cell-dents-0-0"] == "n <b>why</b>"
        and typist.form["reason-0"] == "bent"
    )
    assert "<b>why</b>" not in typist.page.text


def test_every_field_has_a_name_of_its_own_for_a_screen_reader(yard):
    labels = Typist(yard.client, f"{ADDRESS}&stoves=5").labels
    assert len(labels) == len(set(labels.values())) and len(labels) == 3 + 5 * (1 + 1 + 1 + 3 + 2)


@pytest.mark.parametrize(
    "query",
    [
        "batch=B9&checklist=small-stove",
        "batch=B1&checklist=nothing",
        "batch=B1&checklist=small-stove&stoves=7",
    ],
)
def test_form_that_cannot_be_is_said_plainly(yard, query):
    answer = yard.client.get(f"/yard/entry?{query}")
    assert answer.status_code in (400, 404) and "This did not work" in answer.text


def test_form_without_its_name_is_refused_and_saves_nothing(yard):
    typist = enter(yard, fill())
    answer = yard.client.post("/yard/entry", data={**typist.form, "do": "save", "key": "x"})
    assert (
        answer.status_code == 400 and "Open the page again" in answer.text and read_log(yard) == []
    )


def test_stove_outside_an_agreed_sample_needs_only_its_critical_checks(yard):
    body = {
        "inspect": "sample",
        "design": "single",
        "checklist_stage": "finished",
        "lot": 20,
        "level": "II",
        "regime": "normal",
        "letter": "C",
        "seed": "s",
        "sample": ["B1-002"],
        "limits": [],
        "may_reduce": False,
        "is_restart": False,
    }
    record_server_event(yard.store, kind="plan", recorder="lead", body=body, now=NOW, batch="B1")
    outside = enter(yard, {"serial-0": "B1-001", "cell-sharp-edge-0-0": "p"})
    assert "Not in the agreed sample" in text_of(outside.page) and "✓ Passed 1 of 1" in text_of(
        outside.page
    )
    outside.press("save")
    event = read_log(yard)[-1]
    assert (
        event["body"]["scope"] == "critical"
        and event["body"]["disposition"] == {"kind": "release"}
        and event["state"] == "counted"
    )
    inside = enter(yard, {"serial-0": "B1-002", "cell-sharp-edge-0-0": "p"})
    assert "Not checked: 2" in text_of(inside.page) and inside.form["kind-0"] == "hold"


def test_too_much_writing_is_refused_and_kept_on_the_form(yard):
    typist = enter(yard, fill(dents="p " + "x" * 900))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(paper, "MAX_BODY_BYTES", 800)
        typist.press("save")
    assert (
        typist.page.status_code == 400
        and "shorten the notes" in typist.page.text
        and len(typist.form["cell-dents-0-0"]) == 902
    )
    assert read_log(yard) == []


def test_what_was_saved_is_told_in_the_readers_language(yard):
    address = f"{ADDRESS}?batch=B1&checklist=small-stove&saved=B1-001: rework&saved=<b>x"
    assert "Saved: B1-001: rework, &lt;b&gt;x." in drop_marks(yard.client.get(address).text)
    french = yard.client.get(address, headers={"Accept-Language": "fr"}).text
    assert "B1-001\u00a0: reprise" in drop_marks(french)


# --- the liner that a stove was made from


@pytest.fixture
def making(yard):
    """Stoves are made of liners, and both are inspected in the open batch."""
    compiled = build_small_checklist(2).compiled()
    stove = Checklist.from_compiled(compiled | {"made_from": ["fired-liner"]})
    liner = build_liner("fired-liner")
    with yard.store.writing() as connection:
        for one in (stove, liner):
            checklists.publish_checklist(
                connection, one, origin="file", now="2026-11-01T00:00:00.000Z"
            )
        both = [stove.id, liner.id]
        batches.save_batches(connection, [{**BATCHES[0], "checklist_ids": both}])
    return yard


def test_sheet_asks_for_the_liner_and_its_record_names_it(making):
    typist = Typist(making.client, ADDRESS)
    assert typist.labels["piece-fired-liner-0"] == "Serial of the liner, if it has one, stove 1"
    typed = {**ABOUT, **fill(), "piece-fired-liner-0": " L007 "}
    typist.press("review", **typed)
    assert "Serial of the liner, if it has one: L007" in text_of_page(typist)
    typist.press("save", **{"kind-0": "release"})
    (record,) = [event for event in read_log(making) if event["kind"] == "inspection"]
    assert record["body"]["made_from"] == {"fired-liner": "L007"}


def test_liner_left_empty_is_left_out(making):
    typist = Typist(making.client, ADDRESS).press("review", **{**ABOUT, **fill()})
    typist.press("save", **{"kind-0": "release"})
    (record,) = [event for event in read_log(making) if event["kind"] == "inspection"]
    assert "made_from" not in record["body"]


def test_liner_that_is_no_serial_is_marked_at_its_field(making):
    typed = {**ABOUT, **fill(), "piece-fired-liner-0": "L" * 200}
    typist = Typist(making.client, ADDRESS).press("review", **typed)
    assert "this is not a serial" in typist.wrong["piece-fired-liner-0"]
    assert typist.form["piece-fired-liner-0"] == "L" * 200


def test_yard_that_inspects_no_liner_is_not_asked_for_one(yard):
    assert not [name for name in Typist(yard.client, ADDRESS).labels if name.startswith("piece-")]


@pytest.mark.parametrize("stoves", [1, 5])
def test_printed_sheet_asks_as_the_form_does(making, stoves):
    pdf = making.client.get(
        f"/yard/sheets.pdf?checklist=small-stove&size=medium&stoves={stoves}"
    ).content
    text = " ".join(part.extract_text() for part in PdfReader(io.BytesIO(pdf)).pages)
    assert "Serial of the liner, if it has one" in " ".join(text.split())


def text_of_page(typist) -> str:
    return text_of(typist.page).replace(" :", ":")
