"""The lead's own checklists: changed field by field or as YAML, checked, named where weaker,
published as a new revision, frozen.
"""

import html
import json
import re
from pathlib import Path

import pytest

from qcapp.checklist.load import load_checklist, read_text
from qcapp.store import log
from qcapp.store.registry import checklists
from qcapp.usecases.open_store import publish_folder
from qcapp.usecases.publish_checklist import fill_fields, get_editor
from tests.builders import NOW, open_yard

pytestmark = [pytest.mark.both_engines, pytest.mark.slow]
FOLDER = Path(__file__).resolve().parents[2] / "checklists"
ID = "finished-stove"
PAGE = f"/yard/checklists/{ID}"
UPPER = "checks.door-opening-width.measure.limits.medium.upper"
BASIS = "checks.door-opening-width.basis"
SHIPPED = load_checklist(FOLDER / f"{ID}.yaml").revision
NEXT = SHIPPED + 1
JSON = {"Accept": "application/json"}


@pytest.fixture
def yard():
    yard = open_yard()
    publish_folder(yard.store, FOLDER, "2026-11-01T00:00:00.000Z")
    return yard


def build_fields(yard, **changed):
    """The form as the page gives it, with some fields typed over; None takes a field away,
    as an unticked box does.
    """
    bench = get_editor(yard.store, FOLDER, ID)
    fields = {
        **fill_fields(bench, bench.current),
        "revision": str(bench.next_revision),
        "seen": "",
        **changed,
    }
    return {key: value for key, value in fields.items() if value is not None}


def find_current(yard, checklist_id=ID):
    with yard.store.reading() as connection:
        return {
            one.compiled["id"]: one.compiled
            for one in checklists.list_current_definitions(connection)
        }[checklist_id]


def list_deeds(yard):
    with yard.store.reading() as connection:
        bodies = [
            json.loads(row.raw)["body"]
            for row in log.list_trail(connection, before=2**53, limit=50)
        ]
    return [(body["action"], body["about"]) for body in bodies]


def text_of(answer):
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text)))


def find_seen(answer):
    return re.search(r'name="seen" value="(\w*)"', answer.text)[1]


def download(yard):
    return yard.client.get(f"{PAGE}.yaml").text


def tighten(text, upper="102"):
    return (
        text.replace(f"revision: {SHIPPED}", f"revision: {NEXT}", 1)
        .replace("upper: 103", f"upper: {upper}", 1)
        .replace("placeholder: replace by your own drawing", "our drawing 3")
    )


def test_each_language_of_the_program_has_a_field_under_its_own_name(yard):
    page = yard.client.get(PAGE).text
    names = dict(re.findall(r'<label for="f-checks.door-opening-width.ask.(\w+)">([^<]+)<', page))
    assert names == {"en": "English", "fr": "Français", "pt": "Português"}


def test_page_holds_every_field_as_it_is(yard):
    page = yard.client.get(PAGE)
    shown = set(re.findall(r'name="([^"]+)"', page.text)) - {"viewport"}
    kept = {name for name in build_fields(yard) if name.endswith(".caution.en")}
    assert len(kept) > 5 and shown == set(build_fields(yard)) - kept, (
        "a caution's English is shown, but is no field"
    )
    assert (
        page.headers["content-security-policy"].endswith("script-src 'self'; connect-src 'self'")
        and "<script>" not in page.text
    )
    assert (
        "script-src" not in yard.client.get("/yard/checklists").headers["content-security-policy"]
    )


def test_page_says_of_each_repeated_check_why_it_is_asked_again(yard):
    page = text_of(yard.client.get(PAGE))
    reasons = [
        check.asked_again["en"]
        for check in load_checklist(FOLDER / f"{ID}.yaml").checks
        if check.asked_again
    ]
    assert len(reasons) > 10
    assert page.count("Why it is asked again: ") == len(reasons)
    assert all(f"Why it is asked again: {reason}" in page for reason in reasons)


def test_tighter_limit_is_published_at_once_and_goes_to_phones(yard):
    before = yard.client.get("/api/sync/hello").json()["reference_tag"]
    answer = yard.client.post(
        PAGE,
        data=build_fields(
            yard, **{UPPER: "102,5", BASIS: "our drawing 3", "title.fr": "Foyer fini"}
        ),
    )
    assert answer.url.path == "/yard/checklists" and f"Revision {NEXT}, the yard's own" in text_of(
        answer
    )
    reference = yard.client.get("/api/sync/reference", headers=yard.headers).json()
    (sent,) = [one for one in reference["checklists"] if one["compiled"]["id"] == ID]
    width = next(
        check for check in sent["compiled"]["checks"] if check["id"] == "door-opening-width"
    )
    assert (
        sent["compiled"]["revision"] == NEXT
        and width["limits"]["medium"]["upper"] == 102.5
        and sent["compiled"]["title"]["fr"] == "Foyer fini"
    )
    assert reference["tag"] != before
    ((audit_message, about),) = list_deeds(yard)
    assert (
        audit_message == "checklist_published"
        and about["checklist"] == f"{ID}@{NEXT}"
        and about["hash"] == sent["hash"][:16]
    )
    with yard.store.reading() as connection:
        shipped = load_checklist(FOLDER / f"{ID}.yaml").hash
        assert checklists.load_checklists(connection, [shipped]), "it stays for its records"


@pytest.mark.parametrize(
    ("key", "text", "says"),
    [
        (UPPER, "wide", "A plain number is expected"),
        (UPPER.removesuffix(".upper") + ".lower", "110", "Lower 110 is above upper 103"),
        (BASIS, "", "Empty text"),
        ("checks.latch.ask.en", " ", "Empty text"),
        ("title.en", "", "Empty text"),
    ],
)
def test_error_stands_beside_its_field_and_nothing_is_lost(yard, key, text, says):
    typed = build_fields(yard, **{key: text, "checks.door-fit.ask.fr": "Ma <porte>"})
    for address in (PAGE, f"{PAGE}/check"):
        answer = yard.client.post(address, data=typed)
        assert answer.status_code == 400 and "Ma &lt;porte&gt;" in answer.text
        place = key if says != "Lower 110 is above upper 103" else UPPER.removesuffix(".upper")
        (beside,) = re.findall(rf'data-wrong="{re.escape(place)}">([^<]+)<', answer.text)
        assert says in html.unescape(beside)
    found = yard.client.post(f"{PAGE}/check", data=typed, headers=JSON).json()
    assert [place for place, told in found["wrong"] if says in told] == [place]
    assert find_current(yard)["revision"] == SHIPPED and list_deeds(yard) == []


def test_no_check_at_all_is_refused(yard):
    typed = {key: value for key, value in build_fields(yard).items() if not key.startswith("use.")}
    assert (
        yard.client.post(PAGE, data=typed).status_code == 400
        and find_current(yard)["revision"] == SHIPPED
    )


def test_weaker_checklist_is_named_before_it_is_published_and_in_the_trail(yard):
    typed = build_fields(yard, **{"use.leg-load": None, UPPER: "108", BASIS: "our drawing 3"})
    told = yard.client.post(f"{PAGE}/check", data=typed, headers=JSON).json()["notices"]
    assert [notice["is_safety"] for notice in told] == [False, True]
    first = yard.client.post(PAGE, data=typed)
    assert first.status_code == 200 and find_current(yard)["revision"] == SHIPPED, (
        "who has not seen it has not published it"
    )
    words = text_of(first)
    assert (
        "“Legs carry 20 kg for one minute” is left out. It is critical" in words
        and "108 mm is outside the shipped one, which is 103 mm" in words
    )
    assert "Publish anyway" in words and list_deeds(yard) == []
    # Something else was changed meanwhile: what was seen does not cover it.
    more = {**typed, "seen": find_seen(first), "use.latch": None}
    more = {key: value for key, value in more.items() if value is not None}
    assert (
        yard.client.post(PAGE, data=more).status_code == 200
        and find_current(yard)["revision"] == SHIPPED
    )
    yard.client.post(PAGE, data={**typed, "seen": find_seen(first)})
    current = find_current(yard)
    assert current["revision"] == NEXT and "leg-load" not in [
        check["id"] for check in current["checks"]
    ]
    assert list_deeds(yard)[0][1]["weaker_in"] == "checks.leg-load"
    assert 'name="use.leg-load">' in yard.client.get(PAGE).text, "it is offered again, unticked"
    assert 'name="use.leg-load" checked>' in yard.client.get(f"{PAGE}?shipped=true").text


def test_calculated_check_without_its_input_is_told_at_that_check(yard):
    answer = yard.client.post(PAGE, data=build_fields(yard, **{"use.door-opening-width": None}))
    assert answer.status_code == 400
    assert (
        "door-opening-width"
        in re.search(r'data-wrong="checks.door-opening-area">([^<]+)<', answer.text)[1]
    )


def test_caution_stays_whatever_is_sent(yard):
    shipped = {check["id"]: check["caution"] for check in find_current(yard)["checks"]}
    yard.client.post(
        PAGE,
        data=build_fields(
            yard, **{"checks.leg-load.caution.en": "", "checks.leg-load.caution.fr": "Pieds loin."}
        ),
    )
    kept = {check["id"]: check["caution"] for check in find_current(yard)["checks"]}
    assert kept == {**shipped, "leg-load": {**shipped["leg-load"], "fr": "Pieds loin."}}
    caution = re.compile(r"    caution: .*Feet clear.*\n")
    answer = yard.client.post(
        "/yard/checklist-text",
        data={
            "text": caution.sub("", download(yard)).replace(
                f"revision: {NEXT}", f"revision: {NEXT + 1}", 1
            )
        },
    )
    assert (
        answer.status_code == 400
        and "the caution is left out" in text_of(answer)
        and find_current(yard)["revision"] == NEXT
    )


def test_two_leads_at_once_lose_nothing(yard):
    mine = build_fields(yard, **{"title.en": "Mine"})
    yard.client.post(PAGE, data=build_fields(yard, **{"title.en": "Yours"}))
    answer = yard.client.post(PAGE, data=mine)
    assert (
        answer.status_code == 400
        and f"Revision {NEXT} has been published in the meantime" in text_of(answer)
        and 'value="Mine"' in answer.text
    )
    assert find_current(yard)["title"]["en"] == "Yours"


def test_unchanged_checklist_makes_no_revision(yard):
    answer = yard.client.post(PAGE, data=build_fields(yard))
    assert answer.status_code == 400 and f"Nothing has changed since revision {SHIPPED}" in text_of(
        answer
    )


def test_downloaded_yaml_is_the_same_checklist_and_comes_back_changed(yard):
    text = download(yard)
    checklist, errors = read_text(text, "x", FOLDER)
    assert errors == [] and checklist.hash == load_checklist(FOLDER / f"{ID}.yaml").hash
    shown = yard.client.post(
        "/yard/checklist-text/check", files={"file": ("own.yaml", tighten(text).encode())}
    )
    assert (
        shown.status_code == 200
        and "no errors" in text_of(shown)
        and find_current(yard)["revision"] == SHIPPED
    )
    sent = html.unescape(re.search(r"<textarea[^>]*>\n(.*?)</textarea>", shown.text, re.DOTALL)[1])
    assert sent == tighten(text)
    # A browser sends line ends of its own.
    yard.client.post(
        "/yard/checklist-text", data={"text": sent.replace("\n", "\r\n"), "seen": find_seen(shown)}
    )
    assert find_current(yard)["revision"] == NEXT


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        (f"revision: {NEXT}", f"revision: {SHIPPED}", 2, f"write revision: {NEXT}"),
        ("upper: 102", "uper: 102", None, "did you mean 'upper'?"),
        ("round-stove.svg", "other.svg", None, "other.svg"),
        ("checks:", "checks: [", None, "not YAML"),
    ],
)
def test_yaml_with_an_error_is_told_with_its_line_and_stays(yard, old, new, line, says):
    text = tighten(download(yard)).replace(old, new, 1)
    line = line or text[: text.index(new)].count("\n") + 1
    answer = yard.client.post("/yard/checklist-text", data={"text": text})
    assert answer.status_code == 400 and "Steel rule, inside edge to inside edge" in answer.text
    told = text_of(answer)
    assert says in told and (f"Line {line}," in told or "not YAML" in says), told[:600]
    assert find_current(yard)["revision"] == SHIPPED and list_deeds(yard) == []


@pytest.mark.parametrize(
    "content", [b"", b"\xff\xfe\x00", b"x" * 500_001], ids=["empty", "no text", "too long"]
)
def test_file_that_cannot_be_read_is_said_plainly(yard, content):
    answer = yard.client.post("/yard/checklist-text/check", files={"file": ("own.yaml", content)})
    assert answer.status_code == 400 and "file" in text_of(answer)


def test_new_checklist_of_ones_own_is_published(yard):
    text = download(yard).replace(f"id: {ID}", "id: my-stove", 1)
    yard.client.post("/yard/checklist-text", data={"text": text})
    assert (
        find_current(yard, "my-stove")["revision"] == SHIPPED
        and find_current(yard)["revision"] == SHIPPED
    )


def test_newer_file_of_the_program_does_not_replace_the_yards_own(yard, tmp_path):
    yard.client.post(PAGE, data=build_fields(yard, **{"title.en": "Ours"}))
    for drawing in (*FOLDER.glob("*.svg"), *FOLDER.glob("pictures/*.svg")):
        there = tmp_path / drawing.relative_to(FOLDER)
        there.parent.mkdir(exist_ok=True)
        there.write_text(drawing.read_text())
    for number in (NEXT, NEXT + 1):
        text = (
            (FOLDER / f"{ID}.yaml")
            .read_text()
            .replace(f"revision: {SHIPPED}", f"revision: {number}", 1)
        )
        (tmp_path / f"{ID}.yaml").write_text(text)
        publish_folder(yard.store, tmp_path, NOW.isoformat())
        assert find_current(yard)["title"]["en"] == "Ours", (
            "the server starts, and phones keep the yard's limits"
        )
    assert "A newer version came with the program" in text_of(yard.client.get("/yard/checklists"))
    yard.client.post(PAGE, data=build_fields(yard, **{"title.en": "Ours again"}))
    assert find_current(yard)["revision"] == SHIPPED + 3
