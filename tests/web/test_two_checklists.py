"""Two checklists that share every id, part, step, check and fault, each with its own limits and
words: whatever is inspected by one of them changes no figure of the other.
"""

import csv
import io
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
from httpx import Response

from qcapp.checklist.model import Checklist
from qcapp.store.registry.checklists import publish_checklist
from qcapp.usecases.load_limits import load_limits
from qcapp.usecases.load_measuring import load_measuring
from tests.builders import Phone, Yard, build_small_checklist, open_yard
from tests.page_text import text_of
from tests.routes import RULES, find

pytestmark = pytest.mark.slow

OTHER_PHONE = "0197f000-0000-7000-8000-0000000000bb"
# The parts of the yard that show figures; what else there is shows records, people, phones.
FIGURES = re.compile(
    r"/trainer\b|/yard/limits|/yard/pace|/batches/B1(/figures\?.*)?$|/api/(trainer|batches)"
)
# A row of the skill sheet is a piece of work, with the counts of each checklist apart
# (test_skills.py).
NO_FIGURES = re.compile(r"/trainer/skills|/trainer/(lessons|templates)/|\.xlsx$|/yard/pace/\{")


def build_liner(stage: str, shift: int = 10, revision: int = 1) -> Checklist:
    """The small stove's ids with other words, and every limit `shift` mm higher."""
    compiled = build_small_checklist(revision).compiled()
    compiled |= {"id": "small-liner", "title": {"en": "Small liner"}, "stage": stage}
    for part in (*compiled["parts"], *compiled["steps"]):
        part["title"] = {"en": f"{part['title']['en']} of the liner"}
    for check in compiled["checks"]:
        check["ask"] = {"en": f"Liner: {check['ask']['en'].replace('-', ' ')}"}
        check["faults"] = [
            {
                **fault,
                "id": f"liner-{fault['id']}",
                "title": {"en": f"Liner {fault['id'].replace('-', ' ')}"},
            }
            for fault in check["faults"]
        ]
        for limits in check.get("limits", {}).values():
            limits.update({key: value and value + shift for key, value in limits.items()})
    return Checklist.from_compiled(compiled)


@dataclass(frozen=True)
class Asked:
    """Which of the two checklists' stoves are inspected, and at which stage the liners are."""

    stove: bool
    liner: bool
    stage: str


def fill(asked: Asked) -> Yard:
    yard = open_yard()
    liner = build_liner(asked.stage)
    with yard.store.writing() as connection:
        publish_checklist(connection, liner, origin="file", now="2026-11-01T00:00:00.000Z")
    phone, events = Phone(liner, OTHER_PHONE), []
    for n in range(60):
        at = (datetime(2026, 9, 1, 8, tzinfo=UTC) + timedelta(days=n)).strftime(
            "%Y-%m-%dT%H:%M:%S.000Z"
        )
        maker = ("A01", "A02")[n % 2]
        if asked.stove:
            events.append(inspect(yard.phone, f"B1-{n:03}", n, maker, at, 100, every=7))
        if asked.liner:
            event = inspect(phone, f"B1-L{n:03}", n, maker, at, 110, every=4, stage=asked.stage)
            events.append(event)
    yard.push(*events[:60])
    if events[60:]:
        yard.push(*events[60:])
    return yard


def inspect(phone, serial, n, maker, at, middle, *, every, **change):
    """One in `every` has too wide an opening, one in nine an edge that cuts."""
    is_wide, is_sharp = n % every == 0, n % 9 == 1
    return phone.inspect(
        serial,
        width=str(middle + 5 if is_wide else middle + (0, 1, -1, 2)[n % 4]),
        edge="fail" if is_sharp else "pass",
        disposition="rework" if is_wide or is_sharp else "release",
        maker=maker,
        at=at,
        **change,
    )


@pytest.fixture(scope="module", params=["fired-liner", "finished"])
def yards(request):
    """The liners are inspected at a stage of their own, or at the same one."""
    asked = {"both": (True, True), "stove": (True, False), "liner": (False, True)}
    return {name: fill(Asked(*which, request.param)) for name, which in asked.items()}


def crawl(yard: Yard) -> dict[str, Response]:
    """What answers under every address of figures that a page of figures leads to, and every call
    and file of them.
    """
    plain = {rule.path for rule in RULES if rule.method == "GET" and "{" not in rule.path}
    ahead = sorted(path for path in plain if FIGURES.match(path))
    ahead += [
        "/batches/B1",
        "/api/batches/B1",
        "/trainer/artisans/A01",
        "/trainer/artisans/A02",
    ]
    ahead += ["/api/trainer/artisans/A02"]
    seen: dict[str, Response] = {}
    while ahead:
        address = ahead.pop(0)
        rule = find("GET", address.split("?")[0])
        if address in seen or rule is None or NO_FIGURES.search(rule.path):
            continue
        answer = seen[address] = yard.client.get(address)
        assert answer.status_code == 200, address
        if answer.headers["content-type"].startswith("text/html"):
            links = [unescape(link) for link in re.findall(r'href="(/[^"#]*)"', answer.text)]
            ahead += [link for link in links if FIGURES.match(link)]
    return seen


def read_pieces(answer: Response) -> list[str]:
    """A page cut into its sections, rows and points; a file into lines; a call into its items."""
    if answer.headers["content-type"].startswith("application/json"):
        items = answer.json()
        return [repr(item) for item in (items if isinstance(items, list) else list_items(items))]
    if answer.headers["content-type"].startswith("text/csv"):
        return [repr(row) for row in csv.DictReader(io.StringIO(answer.text))]
    whole = re.search(r"<main.*</main>", answer.text, re.DOTALL)[0]
    # What else there is to choose is no figure.
    whole = re.sub(r"<nav.*?</nav>", "", whole, flags=re.DOTALL)
    cut = re.split(
        r"(?=<section|<tr|<li|<h[23]|<table)|(?<=</section>)|(?<=</table>)|(?<=</ul>)", whole
    )
    return [" ".join(re.sub(r"<[^>]+>", " ", unescape(piece)).split()) for piece in cut]


def list_items(found: dict) -> list:
    return [item for value in found.values() if isinstance(value, list) for item in value]


# What rests on how many rows are looked at, and must: the more questions, the more careful. And how
# many were offered, which a batch is told of one checklist alone.
BY_NUMBER_OF_ROWS = re.compile(
    r" of \d+ offered|'offered': \d+, 'not_inspected': \d+, |"
    r"'(q|strength|stoves_more)': [^,]*,?|evidence: [a-z ]+|could be chance|"
    r"About \d+ more apprentices' stoves would tell\.|fewer than the experienced"
    # The one axis that all steps of a page are drawn on.
    r"|\b0 % \d+ % \d+ % (?=\d)"
)
# The one step to teach is chosen among all of them.
CHOSEN = "This step has the largest problem"


def read_own(answer: Response, checklist: Checklist) -> list[str]:
    """The pieces that name the checklist, by its title or its id."""
    names = (checklist.title["en"], f"'{checklist.id}'")
    return sorted(
        BY_NUMBER_OF_ROWS.sub("", piece)
        for piece in read_pieces(answer)
        if any(name in piece for name in names) and CHOSEN not in piece
    )


def list_rows(yard: Yard, checklist: Checklist) -> dict[tuple[str, str, str], list]:
    """The points of every row that is looked at for drift."""
    drift = load_measuring(yard.store, yard.client.app.state.settings).drift
    rows = [*(row.series for row in drift.readings), *(row.passes for row in drift.passes)]
    return {
        (row.criteria.checklist, row.criteria.judged.id, row.group.id): list(row.points)
        for row in rows
        if row.criteria.checklist == checklist.id
    }


@pytest.mark.parametrize("name", ["stove", "liner"])
def test_what_one_checklist_shows_stands_unchanged_beside_the_other(yards, name):
    both, alone = yards["both"], yards[name]
    checklist = build_small_checklist() if name == "stove" else build_liner("finished")
    compared = 0
    for address, answer in crawl(alone).items():
        # How slow a row must be to speak for drift depends on how many rows there are.
        if "/drift" not in address:
            own = read_own(answer, checklist)
            assert own == read_own(both.client.get(address), checklist), address
            compared += len(own)
    assert compared >= 30
    assert list_rows(alone, checklist) == list_rows(both, checklist)
    assert len(list_rows(alone, checklist)) == 6


def test_no_row_mixes_stages_and_every_limit_is_the_checklists_own(yards):
    both = yards["both"]
    measuring, rows = load_limits(both.store, both.client.app.state.settings)
    failed = [one for one in measuring.observations if one.failed and one.value is not None]
    for row in rows:
        own = [one for one in failed if one.checklist == row.criteria.checklist]
        assert row.capability.below + row.capability.above == len(own) > 0
    assert {row.criteria.checklist for row in rows} == {"small-stove", "small-liner"}
    page = text_of(both.client.get("/yard/limits"))
    assert "Small stove; medium, 97 to 103 mm" in page
    assert "Small liner; medium, 107 to 113 mm" in page


def test_every_fault_is_named_by_its_own_checklist(yards):
    codes = re.compile(r"\b(too-large|liner-too-large|liner-bad)\b")
    named = ""
    for address, answer in crawl(yards["both"]).items():
        # A call gives a fault's id beside its words.
        text = re.sub(r'"fault":"[^"]*"', "", text_of(answer))
        assert not codes.search(text), (address, codes.search(text))
        named += text
    assert "Too large" in named and "Liner too large" in named


def test_a_lesson_is_held_against_each_checklist_alone(yards):
    lesson = {"held_on": "2026-10-01", "step": "cut-door-opening", "people": ["A02"], "note": ""}
    both = yards["both"]
    both.client.post("/trainer/lessons", data=lesson)
    rows = both.client.get("/api/trainer/lessons").json()
    assert [(row["checklist"], row["before"]["inspected"]) for row in rows] == [
        ("small-liner", 15),
        ("small-stove", 15),
    ]
    page = both.client.get("/trainer/lessons").text
    assert page.count("Void this lesson") == 1
    # One work under one id, in the words of both.
    assert "Cut the door opening of the liner / Cut the door opening (metalwork)" in page
    both.client.post(f"/trainer/lessons/{rows[0]['lesson']['id']}/withdraw")


@pytest.fixture(scope="module")
def revised():
    """The liner's limits move by 10 mm with revision 2, which also has other words for its fault.

    30 liners by each revision, one in four too wide by its own.
    """
    yard = open_yard()
    first, second = build_liner("fired-liner"), build_liner("fired-liner", 20, revision=2)
    compiled = second.compiled()
    for check in compiled["checks"]:
        check["faults"] = [{**check["faults"][0], "id": "wide", "title": {"en": "Wide"}}]
    second = Checklist.from_compiled(compiled)
    for place, liner in enumerate((first, second)):
        with yard.store.writing() as connection:
            publish_checklist(connection, liner, origin="file", now="2026-11-01T00:00:00.000Z")
        phone = Phone(liner, f"{OTHER_PHONE[:-1]}{place}")
        for n in range(30):
            at = f"2026-{9 + place:02}-{1 + n % 28:02}T08:00:0{n // 28}.000Z"
            event = inspect(
                *(phone, f"B1-L{place}{n:02}", n, "A01", at, 110 + 10 * place),
                every=4,
                stage="fired-liner",
            )
            yard.push(event)
    return yard


def test_readings_are_held_against_the_limits_they_were_judged_by(revised):
    page = text_of(revised.client.get("/yard/limits"))
    assert "Small liner; medium, 117 to 123 mm 30" in page
    assert "Small liner, earlier limits, of revision 1; medium, 107 to 113 mm 30" in page
    _measuring, rows = load_limits(revised.store, revised.client.app.state.settings)
    assert [(row.criteria.revisions, row.capability.above) for row in rows] == [
        ((2,), 8),
        ((1,), 8),
    ]
    address = "/yard/limits/small-liner/door-opening-width/medium"
    now = revised.client.get(address)
    assert "30 readings judged by the limits of revision 1" in text_of(now)
    earlier = re.search(rf'href="({address}\?judged_by=\w+)"', now.text)[1]
    assert "Limits 107 to 113 mm" in text_of(revised.client.get(earlier))
    assert revised.client.get(f"{address}?judged_by=none").status_code == 404


def test_a_new_limit_is_no_drift_and_begins_a_row(revised):
    drift = load_measuring(revised.store, revised.client.app.state.settings).drift
    assert not drift.signals
    cut = [row.passes for row in drift.passes if row.passes.step.id == "cut-door-opening"]
    assert [(row.criteria.revisions, len(row.points)) for row in cut] == [((2,), 30), ((1,), 30)]
    page = revised.client.get("/trainer/drift")
    assert "Small liner, earlier limits, of revision 1" in text_of(page)
    for link in re.findall(r'href="(/trainer/drift/[^"]*judged_by[^"]*)"', page.text):
        assert "30" in text_of(revised.client.get(unescape(link)))


def test_a_fault_that_the_newest_revision_has_no_more_keeps_its_words(revised):
    for address in ("/trainer/faults", "/batches/B1/figures", "/trainer/artisans/A01"):
        text = text_of(revised.client.get(address))
        assert "Liner too large" in text and "Wide" in text and "liner-too-large" not in text
    faults = revised.client.get("/api/trainer/faults").json()
    cut = next(step for step in faults if step["step"] == "cut-door-opening")
    assert {row["title"]: row["failed"] for row in cut["rows"]} == {"Liner too large": 8, "Wide": 8}
