"""The trainer's rooms: from pushed stoves to the words on the page, the files and the API."""

import csv
import io
import re
import zipfile
from html import unescape

import pytest

from qcapp.reports.teach import NAMED
from qcapp.store.registry.people import save_people
from tests.builders import PEOPLE, open_yard
from tests.page_text import text_of

pytestmark = pytest.mark.both_engines
STEP = "/trainer/steps/small-stove/{}"


@pytest.fixture(scope="module")
def yard():
    """Thirty stoves of the apprentice A02, ten with a wide door opening;
    thirty good ones of A01.
    """
    yard = open_yard()
    for n in range(30):
        wide = n % 3 == 0
        day = f"2026-11-{1 + n % 20:02}T0{n % 9}:00:00.000Z"
        yard.push(
            yard.phone.inspect(
                f"B1-{n:03}",
                maker="A02",
                width="106" if wide else "100",
                disposition="rework" if wide else "release",
                at=day,
            ),
            yard.phone.inspect(f"B1-1{n:03}", maker="A01", at=day),
        )
    return yard


def teach(yard, query=""):
    return {row["step"]: row for row in yard.client.get(f"/api/trainer/teach{query}").json()}


@pytest.fixture(scope="module")
def crew():
    """Three apprentices with seven wide openings of twenty each; five experienced with none."""
    yard = open_yard()
    codes = [f"N{n}" for n in range(3)] + [f"E{n}" for n in range(5)]
    with yard.store.writing() as connection:
        save_people(
            connection,
            [
                {**PEOPLE[0], "code": code, "name": f"Name {code}", "started_on": started_on}
                for code in codes
                for started_on in ("2026-10-01" if code[0] == "N" else "2015-01-01",)
            ],
        )
    for place, code in enumerate(codes):
        yard.push(
            *(
                yard.phone.inspect(
                    f"B1-{place}{n:02}",
                    maker=code,
                    width="106" if wide else "100",
                    disposition="rework" if wide else "release",
                    at=f"2026-11-{1 + n:02}T08:00:00.000Z",
                )
                for n in range(20)
                for wide in (code[0] == "N" and n % 3 == 0,)
            )
        )
    return yard


def test_planted_step_is_named_with_counts_intervals_and_people(crew):
    rows = crew.client.get("/api/trainer/teach").json()
    assert rows[0]["step"] == "cut-door-opening" and rows[0]["strength"] in NAMED
    assert (rows[0]["apprentices"]["failed"], rows[0]["apprentices"]["inspected"]) == (21, 60)
    assert (rows[0]["experienced"]["failed"], rows[0]["experienced"]["inspected"]) == (0, 100)
    page = text_of(crew.client.get("/trainer"))
    assert (
        "Apprentices: 21 of 60, 35 % (24 % to 48 %); Experienced: 0 of 100, 0 % (0 % to 3.7 %)"
        in page
    )
    assert "It is based on 3 apprentices and 5 experienced people" in page
    for n, failed in enumerate((7, 7, 7)):
        assert f"Name N{n} apprentice {failed} of 20" in page
    assert "5 others: 0 of 100" in page and "Too large : 21 of 21 failed checks" in page
    assert "No lesson on this step has been recorded" in page
    step = text_of(crew.client.get(STEP.format("cut-door-opening")))
    assert (
        "Apprentices 21 of 60 (35 %; 24 % to 48 %), experienced 0 of 100 (0 %; 0 % to 3.7 %)."
        in step
    )
    assert "Everybody together 21 of 160 (13 %; 8.7 % to 19 %)" in step


def test_step_without_a_fault_is_not_named(crew):
    assert teach(crew)["turn-edge"]["strength"] == "too few faults"
    page = text_of(crew.client.get(STEP.format("turn-edge")))
    assert "No fault on either side" in page and "No fault was found." in page


def read_rows(page):
    """Of the table of steps with a fault: {address of the step: its row as text}."""
    table = re.search(r'<table class="all-steps">.*?</table>', page, re.DOTALL)[0]
    rows = re.findall(r"<tr>\s*<th scope=\"row\">.*?</tr>", table, re.DOTALL)
    return {re.search(r'href="([^"]+)"', row)[1]: clean(row) for row in rows}


def read_faultless(page):
    """Of the steps that are only named: {address: its line as text}."""
    lines = re.findall(r'<li>(<a href="/trainer/steps/.*?)</li>', page, re.DOTALL)
    return {re.search(r'href="([^"]+)"', line)[1]: clean(line) for line in lines}


def clean(html):
    labelled = re.sub(r'<td data-label="([^"]+)">', r" \1: ", html)
    return " ".join(re.sub(r"<[^>]*>", " ", labelled).split())


def count(name, text):
    found = re.search(rf"{name}:? (\d+) of (\d+)", text)
    return (int(found[1]), int(found[2])) if found else (0, 0)


def check_table(client):
    """Every step once, its groups add up to everybody, its address opens."""
    page, wanted = client.get("/trainer").text, client.get("/api/trainer/teach").json()
    rows, faultless = read_rows(page), read_faultless(page)
    known = {f"/trainer/steps/{one['checklist']}/{one['step']}": one for one in wanted}
    assert sorted([*rows, *faultless]) == sorted(known)
    for address, text in rows.items():
        everybody = known[address]["everybody"]
        parts = [count(name, text) for name in ("Apprentices", "Experienced", "not assigned")]
        total = tuple(sum(pair) for pair in zip(*parts, strict=True))
        assert total == count("Everybody", text)
        assert total == (everybody["failed"], everybody["inspected"])
        assert client.get(address).status_code == 200
    for address, text in faultless.items():
        assert count("", text) == (0, known[address]["everybody"]["inspected"])
    return rows, faultless


def test_table_has_every_step_once_and_its_totals_add_up(crew):
    rows, faultless = check_table(crew.client)
    assert rows and faultless


def test_table_counts_what_is_assigned_to_nobody():
    yard = open_yard()
    yard.push(
        *(yard.phone.inspect(f"B1-{n:03}") for n in range(4)),
        *(without_crew(yard.phone, n, **TOO_WIDE) for n in range(3)),
    )
    rows, _faultless = check_table(yard.client)
    assert {count("not assigned", row) for row in rows.values()} == {(3, 3)}


def test_largest_problem_stands_on_top_though_few_people_do_the_step(yard):
    """Two people are too few to compare groups; the table does not put the step last for that."""
    (address, row), *_ = read_rows(yard.client.get("/trainer").text).items()
    assert address.endswith("/cut-door-opening") and row.endswith("too few people")


def test_a_cell_opens_the_persons_stoves_of_the_step(crew):
    """Counts and interval, every stove with its link, whoever is asked for."""
    matrix = crew.client.get("/trainer/steps").text
    cells = re.findall(
        r'class="rate-cell [^"]+"'
        r' href="(/trainer/steps/small-stove/cut-door-opening/(\w+))">(.*?)</a>',
        matrix,
        re.DOTALL,
    )
    known = {
        row["artisan"]: (row["failed"], row["inspected"])
        for table in crew.client.get("/api/trainer/artisans").json()
        for row in table["rows"]
        if table["step"] == "cut-door-opening"
    }
    assert {code for _address, code, _cell in cells} == set(known)
    for address, code, cell in cells:
        failed, inspected = known[code]
        assert clean(cell).lstrip("△ ").startswith(f"{failed} of {inspected} ,")
        page = crew.client.get(address).text
        assert re.search(rf"{failed} of {inspected} stoves with a fault: [\d.]+ % \(", clean(page))
        links = re.findall(r'<li><a href="/stoves/finished/[^"]+"( class="bad")?>', page)
        assert (sum(map(bool, links)), len(links)) == (failed, inspected)
    lost = crew.client.get("/trainer/steps/small-stove/cut-door-opening/NOBODY")
    assert lost.status_code == 404


def test_plan_a_lesson_from_a_persons_page_has_step_and_person_chosen(crew):
    matrix = crew.client.get("/trainer/steps").text
    address, code = re.search(
        r'"(/trainer/steps/small-stove/cut-door-opening/(\w+))"', matrix
    ).groups()
    page = crew.client.get(address).text
    link = unescape(re.search(r'class="button[^"]*" href="([^"#]+)#record"', page)[1])
    form = crew.client.get(link).text
    assert '<option value="cut-door-opening" selected>' in form
    assert re.findall(r'value="(\w+)" checked', form) == [code]


def test_step_that_was_not_inspected_is_not_found(crew):
    assert crew.client.get("/trainer/steps/finished-stove/dance").status_code == 404
    assert crew.client.get(f"{STEP.format('turn-edge')}?until=2020-01-01").status_code == 404


def test_plan_a_lesson_leads_to_the_form_with_the_step_chosen(crew):
    link = re.search(r'class="button" href="([^"#]+)#record"', crew.client.get("/trainer").text)[1]
    page = crew.client.get(link).text
    assert '<option value="cut-door-opening" selected>' in page


def test_one_apprentice_is_not_the_apprentices(yard):
    """Ten of 30 against 0 of 30, but of one person against one."""
    row = teach(yard)["cut-door-opening"]
    assert row["strength"] == "too few people" and row["p"] is None
    assert [one["artisan"] for one in row["carriers"]] == ["A02"]
    page = text_of(yard.client.get("/trainer"))
    assert "No step shows that apprentices as a group fail more often" in page
    said = "10 faulty stoves, all by one person: Beda (apprentice), who did 30 of the 60."
    assert page.count(said) == 2, "as the step to teach and in the table"
    assert "say nothing about apprentices in general" in page


def test_a_filter_is_said_to_cost_certainty(crew):
    page = text_of(crew.client.get("/trainer?trade=metalwork&since=2026-11-01"))
    assert "Each filter is another comparison" in page
    assert "Each filter is another comparison" not in text_of(crew.client.get("/trainer"))


def test_every_filter_narrows_and_stands_in_the_links(yard):
    assert teach(yard, "?since=2026-11-20")["cut-door-opening"]["everybody"]["inspected"] == 2
    assert teach(yard, "?until=2026-10-01") == {}
    assert (
        teach(yard, "?batch=B0") == {}
        and teach(yard, "?stage=cladding") == {}
        and teach(yard, "?size=large") == {}
    )
    assert teach(yard, "?trade=clay") == {} and len(teach(yard, "?trade=metalwork")) == 2
    page = yard.client.get("/trainer?since=2026-11-20&trade=metalwork").text
    assert "/trainer/steps?since=2026-11-20&amp;trade=metalwork" in page


def test_last_day_of_the_filter_is_in(yard):
    rows = teach(yard, "?since=2026-11-05&until=2026-11-05")
    assert rows["turn-edge"]["apprentices"]["inspected"] == 2


@pytest.mark.parametrize(
    "query",
    ["?since=yesterday", "?since=20261101", "?since=2026-11-05&until=2026-11-01", "?passes=some"],
)
def test_filter_that_cannot_be_is_said_plainly(yard, query):
    answer = yard.client.get(f"/api/trainer/teach{query}")
    assert answer.status_code == 400 and answer.json()["error"]["todo"]
    assert yard.client.get(f"/trainer{query}").status_code == 400


def test_rework_is_counted_only_when_asked_for():
    yard = open_yard()
    yard.push(yard.phone.inspect("B1-001", width="106", disposition="rework"))
    yard.push(yard.phone.inspect("B1-001", at="2026-11-24T12:00:00.000Z"))
    assert teach(yard)["cut-door-opening"]["experienced"]["inspected"] == 1
    assert teach(yard, "?passes=all")["cut-door-opening"]["experienced"]["inspected"] == 2


def test_nobody_is_called_worse_on_few_stoves(yard):
    (table,) = [
        t
        for t in yard.client.get("/api/trainer/artisans").json()
        if t["step"] == "cut-door-opening"
    ]
    assert [(row["artisan"], row["mark"]) for row in table["rows"]] == [
        ("A01", "below"),
        ("A02", "above"),
    ]
    (table,) = [
        t
        for t in yard.client.get("/api/trainer/artisans?since=2026-11-15").json()
        if t["step"] == "cut-door-opening"
    ]
    assert {row["mark"] for row in table["rows"]} == {"too few"}


def test_one_artisan_shows_counts_curve_and_faults(yard):
    report = yard.client.get("/api/trainer/artisans/A02").json()
    cut = report["steps"][0]
    assert (
        cut["step"] == "cut-door-opening"
        and cut["rate"]["failed"] == 10
        and len(cut["recent"]) == 20
    )
    assert [row["title"] for row in report["faults"][0]["rows"]] == ["Too large"]
    page = yard.client.get("/trainer/artisans/A02").text
    assert (
        page.count('<svg class="chart"') == 3
        and "<title id=" in page
        and "The same figures as a table" in page
    )
    assert yard.client.get("/trainer/artisans/A99").status_code == 404


def test_tables_come_as_csv_and_xlsx_with_the_same_figures(yard):
    answer = yard.client.get("/trainer/tables/teach.csv")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert (rows[0]["apprentices_failed"], rows[0]["apprentices_inspected"]) == ("10", "30")
    for name in ("artisans", "faults", "lessons"):
        assert yard.client.get(f"/trainer/tables/{name}.csv").status_code == 200
    book = zipfile.ZipFile(io.BytesIO(yard.client.get("/trainer/tables.xlsx").content))
    assert sum(name.startswith("xl/worksheets/sheet") for name in book.namelist()) == 6
    assert "Cut the door opening" in book.read("xl/sharedStrings.xml").decode()
    assert yard.client.get("/trainer/tables/nothing.csv").status_code == 404


def test_note_like_a_formula_is_disarmed_in_csv_and_plain_text_in_xlsx():
    yard = open_yard()
    lesson = {
        "held_on": "2026-11-20",
        "step": "cut-door-opening",
        "people": ["A02"],
        "note": "=1+1",
    }
    assert (
        yard.client.post("/trainer/lessons", data=lesson, follow_redirects=False).status_code == 303
    )
    assert "'=1+1" in yard.client.get("/trainer/tables/lessons.csv").text
    book = zipfile.ZipFile(io.BytesIO(yard.client.get("/trainer/tables.xlsx").content))
    assert "=1+1" in book.read("xl/sharedStrings.xml").decode()
    assert not any(
        b"<f>" in book.read(name)
        for name in book.namelist()
        if name.startswith("xl/worksheets/sheet")
    )


def test_lesson_is_an_event_and_compares_before_and_after():
    yard = open_yard()
    for n in range(40):
        late = n >= 20
        at = f"2026-11-{15 if late else 5:02}T08:{n:02}:00.000Z"
        yard.push(
            yard.phone.inspect(
                f"B1-{n:03}",
                maker="A02",
                width="100" if late else "106",
                disposition="release" if late else "rework",
                at=at,
            )
        )
    lesson = {
        "held_on": "2026-11-10",
        "step": "cut-door-opening",
        "people": ["A02"],
        "note": "template shown",
    }
    yard.client.post("/trainer/lessons", data=lesson)
    (row,) = yard.client.get("/api/trainer/lessons").json()
    assert (
        row["before"]["failed"],
        row["before"]["inspected"],
        row["after"]["failed"],
        row["after"]["inspected"],
    ) == (20, 20, 0, 20)
    assert row["verdict"] == "fewer faults" and row["change"]["high"] < 0
    page = text_of(yard.client.get("/trainer/lessons"))
    assert "fewer faults" in page and "This is about one person, Beda." in page
    assert "cannot tell whether the lesson is the cause" in page
    yard.client.post(f"/trainer/lessons/{row['lesson']['id']}/withdraw")
    assert yard.client.get("/api/trainer/lessons").json() == []


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    "change",
    [
        {"step": "dance"},
        {"people": ["A99"]},
        {"held_on": "2027-01-01"},
        {"held_on": "soon"},
        {"note": "x" * 501},
    ],
)
def test_lesson_that_cannot_be_is_refused(change):
    yard = open_yard()
    lesson = {
        "held_on": "2026-11-20",
        "step": "cut-door-opening",
        "people": ["A02"],
        "note": "",
        **change,
    }
    assert yard.client.post("/trainer/lessons", data=lesson).status_code in (400, 422)
    assert yard.client.get("/api/trainer/lessons").json() == []


def test_lesson_with_few_stoves_after_it_is_too_early(yard):
    lesson = {"held_on": "2026-11-18", "step": "cut-door-opening", "people": ["A02"], "note": ""}
    yard.client.post("/trainer/lessons", data=lesson)
    row = yard.client.get("/api/trainer/lessons").json()[0]
    assert row["verdict"] == "too early" and row["stoves_more"]["high"] > 0
    yard.client.post(f"/trainer/lessons/{row['lesson']['id']}/withdraw")


def test_api_describes_itself(yard):
    paths = yard.client.get("/api/openapi.json").json()["paths"]
    assert {
        "/api/trainer/teach",
        "/api/trainer/artisans",
        "/api/trainer/faults",
        "/api/trainer/lessons",
    } <= set(paths)


# --- stoves that are assigned to nobody


TOO_WIDE = {"width": "106", "disposition": "rework"}


def without_crew(phone, n, **change):
    body = phone.inspect(f"B1-9{n:02}", **change)["body"]
    return phone.seal("inspection", f"B1-9{n:02}", {**body, "crew": {}})


def count_everybody(client):
    """{step: (failed, inspected)} of Teach next, which counts everybody."""
    return {
        row["step"]: (row["everybody"]["failed"], row["everybody"]["inspected"])
        for row in client.get("/api/trainer/teach").json()
    }


@pytest.mark.parametrize("assigned", [0, 12])
def test_stoves_of_nobody_are_counted_beside_the_artisans_so_that_totals_add_up(assigned):
    yard = open_yard()
    yard.push(
        *(yard.phone.inspect(f"B1-{n:03}") for n in range(assigned)),
        *(
            without_crew(
                yard.phone, n, **({"width": "106", "disposition": "rework"} if n < 3 else {})
            )
            for n in range(7)
        ),
    )
    everybody = count_everybody(yard.client)
    tables = yard.client.get("/api/trainer/artisans").json()
    assert {table["step"] for table in tables} == set(everybody)
    for table in tables:
        rows = [*table["rows"], table["not_assigned"]]
        added = tuple(sum(row[key] for row in rows) for key in ("failed", "inspected"))
        assert added == everybody[table["step"]]
        assert table["not_assigned"]["inspected"] == 7
    for step in everybody:
        page = text_of(yard.client.get(f"/trainer/steps/small-stove/{step}"))
        assert re.search(r"Not assigned to anyone: [03] of 7 stoves\.", page)
        assert f" of {assigned + 7}." in page
    matrix = text_of(yard.client.get("/trainer/steps"))
    if assigned:
        assert "not assigned: 3 of 7" in matrix and f"3 of {assigned + 7}" in matrix
    else:
        assert f"{len(everybody)} steps that name nobody" in matrix


def test_where_all_are_assigned_nothing_is_said_of_nobody(yard):
    assert "ot assigned" not in text_of(yard.client.get("/trainer/steps"))
    assert "ot assigned" not in text_of(yard.client.get(STEP.format("turn-edge")))


@pytest.mark.parametrize("name", ["", "/steps", "/faults", "/inspectors", "/pieces", "/lessons"])
def test_printed_page_says_what_it_counts(yard, name):
    """The filter itself is not printed, so what it says is printed beside it."""
    assert "First passes since" in find_printed(yard.client.get(f"/trainer{name}").text)
    asked = yard.client.get(f"/trainer{name}?batch=B1&passes=all").text
    printed = find_printed(asked)
    assert "Filtered: batch B1, with rework" in printed and "Filter " not in printed


def find_printed(page: str) -> str:
    return " ".join(
        re.search(r'<p class="print-only printed">(.*?)</p>', page, re.DOTALL)[1].split()
    )


def test_fault_of_a_step_that_one_person_does_is_not_called_this_persons(crew):
    """Of whoever does all of a step all faults are, which says nothing of the person."""
    alone = open_yard()
    alone.push(
        *(alone.phone.inspect(f"B1-{n:03}", edge="fail", disposition="rework") for n in range(3))
    )
    page = text_of(alone.client.get("/trainer/faults"))
    assert "One person does this step: Ano." in page and "All are one person's" not in page
