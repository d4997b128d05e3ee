"""The lead's own checklists as YAML: checked, every change shown, named where weaker, published
as a new revision, frozen. Those changed on pages: test_drafts.py.
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
from tests.builders import NOW, open_yard
from tests.page_text import text_of

pytestmark = [pytest.mark.both_engines, pytest.mark.slow]
FOLDER = Path(__file__).resolve().parents[2] / "checklists"
ID = "finished-stove"
PAGE = f"/yard/checklists/{ID}"
SHIPPED = load_checklist(FOLDER / f"{ID}.yaml").revision
NEXT = SHIPPED + 1
JSON = {"Accept": "application/json"}


@pytest.fixture
def yard():
    yard = open_yard()
    publish_folder(yard.store, FOLDER, "2026-11-01T00:00:00.000Z")
    return yard


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


def publish(yard, text):
    """By the page, which shows what changes and asks once more."""
    shown = yard.client.post("/yard/checklist-text", data={"text": text})
    assert find_seen(shown), text_of(shown)
    return yard.client.post("/yard/checklist-text", data={"text": text, "seen": find_seen(shown)})


def test_every_change_is_shown_before_it_is_published(yard):
    text = tighten(download(yard))
    first = yard.client.post("/yard/checklist-text", data={"text": text})
    words = text_of(first)
    assert first.status_code == 200 and find_current(yard)["revision"] == SHIPPED
    assert "Width of the door opening: Size medium, at most: now 102 mm; before 103 mm" in words
    assert "Publish these changes" in words and list_deeds(yard) == []
    told = yard.client.post("/yard/checklist-text/check", data={"text": text}, headers=JSON).json()
    assert any("now 102 mm; before 103 mm" in one["text"] for one in told["changes"])
    # Something else was changed meanwhile: what was seen does not cover it.
    other = text.replace("Finished stove", "Our stove", 1)
    answer = yard.client.post(
        "/yard/checklist-text", data={"text": other, "seen": find_seen(first)}
    )
    assert "Our stove" in text_of(answer) and find_current(yard)["revision"] == SHIPPED
    yard.client.post("/yard/checklist-text", data={"text": text, "seen": find_seen(first)})
    assert find_current(yard)["revision"] == NEXT


def test_weaker_checklist_is_named_before_it_is_published_and_in_the_trail(yard):
    text = tighten(download(yard), upper="108").replace("severity: critical", "severity: minor", 1)
    words = text_of(yard.client.post("/yard/checklist-text", data={"text": text}))
    assert "is no longer critical" in words
    assert "the upper limit is 108 mm and lets more pass; the shipped checklist has 103 mm" in words
    publish(yard, text)
    assert list_deeds(yard)[0][1]["weaker_in"] == "checks.sharp-edges.severity"


def test_deleted_caution_is_refused_and_named(yard):
    caution = re.compile(r"    caution: .*Feet clear.*\n")
    text = caution.sub("", download(yard)).replace(f"revision: {SHIPPED}", f"revision: {NEXT}", 1)
    answer = yard.client.post("/yard/checklist-text", data={"text": text})
    words = text_of(answer)
    assert answer.status_code == 400 and "the caution is left out" in words
    assert "Caution (English): deleted; it was “Feet clear" in words
    assert find_current(yard)["revision"] == SHIPPED


def test_code_of_a_retired_check_means_nothing_else_later(yard):
    text = download(yard)
    block = re.search(r"  - id: paint-dry\n(?:    .*\n)+", text).group()
    publish(yard, text.replace(block, "").replace(f"revision: {SHIPPED}", f"revision: {NEXT}", 1))
    other = block.replace("Paint dry", "Paint even")
    again = text.replace(block, other).replace(f"revision: {SHIPPED}", f"revision: {NEXT + 1}", 1)
    answer = yard.client.post("/yard/checklist-text", data={"text": again})
    assert answer.status_code == 400
    assert "the code paint-dry was used before for “Paint dry”" in text_of(answer)


def test_unchanged_checklist_makes_no_revision(yard):
    text = download(yard).replace(f"revision: {SHIPPED}", f"revision: {NEXT}", 1)
    answer = yard.client.post("/yard/checklist-text", data={"text": text})
    assert answer.status_code == 400
    assert f"nothing has changed since revision {SHIPPED}" in text_of(answer)


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
    text = download(yard).replace(f"revision: {SHIPPED}", f"revision: {NEXT}", 1)
    publish(yard, text.replace("Finished stove", "Ours", 1))
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
    text = download(yard).replace(f"revision: {NEXT}", f"revision: {SHIPPED + 3}", 1)
    publish(yard, text.replace("Ours", "Ours again", 1))
    assert find_current(yard)["revision"] == SHIPPED + 3
