"""Several yards on one server: each behind its own host name,
and nothing of one opens anything of another.
"""

import re

import pytest

from qcapp.errors import BadInput, StoreError
from qcapp.programme_app import load_programme
from qcapp.reports.programme import build_yard_line
from qcapp.stats.proportion import wilson_interval
from qcapp.usecases import load_programme as usecase
from tests.access.test_roles import list_templates
from tests.builders import Phone, build_push, build_small_checklist
from tests.programme_yards import browse, join, serve_programme, sign_in, write_programme
from tests.routes import PROGRAMME_RULES

FILE = write_programme(("North", "South"))


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    return serve_programme(tmp_path_factory.mktemp("programme"), ("North", "South"))


def test_each_host_is_its_own_yard(served):
    for host, name in (
        ("north.example", "North yard"),
        ("south.example", "South yard"),
        ("NORTH.example:8443", "North yard"),
    ):
        assert name in browse(served, host).get("/sign-in").text
    answer = browse(served, "evil.example").get("/")
    assert answer.status_code == 421 and "yard" in answer.text


def test_every_route_of_the_programmes_host_has_a_rule_and_every_rule_a_route(served):
    assert list_templates(served.apps["programme.example"]) == {
        (rule.method, rule.path) for rule in PROGRAMME_RULES
    }


def test_keys_of_one_yard_open_nothing_of_another(served):
    north, programme_lead = (
        sign_in(served, "north.example", "yard_lead"),
        sign_in(served, "programme.example", "programme_lead"),
    )
    pages = (
        "/yard",
        "/trainer",
        "/batches",
        "/batches/B1",
        "/yard/accounts",
        "/yard/trail",
        "/yard/people",
        "/account",
        "/api/trainer/teach",
    )
    assert all(
        browse(served, "north.example", north).get(path).status_code == 200 for path in pages
    )
    for path in pages:
        assert browse(served, "south.example", north).get(path).status_code == 401, path
        assert browse(served, "south.example", programme_lead).get(path).status_code == 401, path
        assert browse(served, "programme.example", north).get(path).status_code in (401, 404), path
    assert browse(served, "programme.example", north).get("/").status_code == 401
    assert browse(served, "programme.example", programme_lead).get("/yard").status_code == 404


def test_phone_of_one_yard_is_a_stranger_at_another(served):
    headers = join(served, "north.example")
    event = Phone(build_small_checklist()).inspect("B1-001")
    for path, host, status in (
        ("pull", "north.example", 200),
        ("pull", "south.example", 401),
        ("reference", "south.example", 401),
    ):
        assert browse(served, host).get(f"/api/sync/{path}", headers=headers).status_code == status
    assert (
        browse(served, "south.example")
        .post("/api/sync/push", json=build_push([event]), headers=headers)
        .status_code
        == 401
    )
    assert (
        browse(served, "programme.example").get("/api/sync/pull", headers=headers).status_code
        == 404
    )


def test_links_and_codes_of_one_yard_are_unknown_at_another(served):
    lead = browse(served, "north.example", sign_in(served, "north.example", "yard_lead"))
    page = lead.post("/yard/accounts", data={"code": "T07", "name": "Taro", "role": "trainer"})
    link = re.search(r"http://north\.example/welcome/([\w-]+)", page.text).group(1)
    assert browse(served, "north.example").get(f"/welcome/{link}").status_code == 200
    assert browse(served, "south.example").get(f"/welcome/{link}").status_code == 404
    code = re.search(
        r"#join=([0-9A-Z]{8})", lead.post("/yard/join-codes", data={"name": "p"}).text
    ).group(1)
    assert (
        browse(served, "south.example")
        .post("/api/devices/enrol", json={"code": code, "device_id": Phone.device_id})
        .status_code
        == 400
    )
    assert (
        browse(served, "north.example")
        .post("/api/devices/enrol", json={"code": code, "device_id": Phone.device_id})
        .status_code
        == 200
    )


def test_page_of_one_yard_cannot_change_another(served):
    """Yards under one name are one site to a browser: it sends the cookie along,
    and says where the page came from.
    """
    south = browse(served, "south.example", sign_in(served, "south.example", "yard_lead"))
    for headers in (
        {"Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "", "Origin": "http://north.example"},
    ):
        assert (
            south.post("/yard/join-codes", data={"name": "p"}, headers=headers).status_code == 403
        )


def test_cookie_is_set_for_its_own_host_only(served):
    lead = browse(served, "north.example", sign_in(served, "north.example", "yard_lead"))
    assert (
        "domain" not in lead.post("/sign-out", follow_redirects=False).headers["set-cookie"].lower()
    )


def test_programme_lead_sees_counts_of_each_yard_and_no_name(served):
    headers = join(served, "south.example")
    phone = Phone(build_small_checklist())
    events = [
        phone.inspect(
            f"B1-{n:03}",
            width="106" if n < 3 else "100",
            disposition="rework" if n < 3 else "release",
        )
        for n in range(30)
    ]
    events.append(phone.inspect("B1-900", inspector="Z99"))
    assert (
        browse(served, "south.example")
        .post("/api/sync/push", json=build_push(events), headers=headers)
        .status_code
        == 200
    )
    page = browse(
        served, "programme.example", sign_in(served, "programme.example", "programme_lead")
    ).get("/")
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.text))
    assert "South yard 3 of 30 10 %" in text
    assert '<a href="http://south.example">South yard</a>' in page.text
    assert "1 record is held back" in text and "No finished stove has been inspected yet" in text
    assert not [name for name in ("Ano", "Beda", "Ciro", "A01", "I01", "B1") if name in text]


def test_yard_line_is_its_counts_with_their_interval():
    """81 of 263 has the Wilson interval 0.2553 to 0.3662 (Newcombe 1998,
    tests/reference/proportions.json).
    """
    counts = {
        "inspected": 263,
        "failed": 263 - 81,
        "quarantined": 2,
        "held": 1,
        "refused": 1,
        "asked": 0,
        "phones": 3,
        "silent": 1,
        "last_contact_at": None,
    }
    line = build_yard_line("Y", "http://y.example", counts, min_count=20)
    assert (line.good, round(line.interval.low, 4), round(line.interval.high, 4), line.is_few) == (
        81,
        0.2553,
        0.3662,
        False,
    )
    assert line.interval == wilson_interval(81, 263)
    few = build_yard_line(
        "Y", "http://y.example", {**counts, "inspected": 19, "failed": 0}, min_count=20
    )
    assert (
        few.is_few
        and build_yard_line(
            "Y", "a", {**counts, "inspected": 0, "failed": 0}, min_count=20
        ).interval
        is None
    )


def test_yard_that_cannot_be_read_does_not_hide_the_others(served, monkeypatch):

    real = usecase.count_yard

    def fail_once(connection, **more):
        monkeypatch.setattr(usecase, "count_yard", real)
        raise StoreError("the database refused the change", "north", "free disk space")

    monkeypatch.setattr(usecase, "count_yard", fail_once)
    page = browse(
        served, "programme.example", sign_in(served, "programme.example", "programme_lead")
    ).get("/")
    assert (
        page.status_code == 200
        and page.text.count("the database refused the change") == 1
        and "South yard" in page.text
    )


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("south.db", "north.db"), "share the same database"),
        (("south.example", "north.example"), "share the same host"),
        (("http://south.example", "south.example"), "not an address"),
        (("http://south.example", "http://south.example/yard"), "not an address"),
        (("database: programme.db", "datenbank: x"), "Field required"),
        (("yards:", "yards: ["), "not YAML"),
    ],
)
def test_file_that_cannot_be_is_refused_in_words(tmp_path, change, says):
    (tmp_path / "p.yaml").write_text(FILE.replace(*change))
    with pytest.raises(BadInput, match=says):
        load_programme(tmp_path / "p.yaml")
