"""Who may do what: every route says it, and each role gets exactly what the route says."""

import re
from pathlib import Path

import pytest
from fastapi import APIRouter, FastAPI
from fastapi.routing import APIRoute

from qcapp.access.roles import ACTIONS, ROLES, SIGNED_IN
from qcapp.app import include_rooms
from qcapp.errors import NotFound, StartError
from qcapp.web.rooms import Room, find_rule, list_routes, list_rules
from qcapp.web.rules import allow
from qcapp.web.yard import start
from tests.builders import make_cookie, open_client, open_yard
from tests.routes import PROGRAMME_RULES, RULES, find, write_access_table

pytestmark = pytest.mark.slow

TABLE = Path(__file__).with_name("ACCESS.md")
# Good enough to reach every route: what is not there answers 404, which is no denial.
PARTS = {
    "{rest:path}": "today",
    "{path:path}": "x.js",
    "{build}": "0",
    "{token}": "t" * 43,
    "{sha256}": "a" * 64,
    "{code}": "A01",
    "{name}": "teach",
    "{lesson_id}": "none",
    "{device_id}": "d",
    "{no}": "999",
    "{number}": "1",
    "{seq}": "1",
    "{checklist}": "x",
    "{check}": "x",
    "{size}": "medium",
    "{study_id}": "none",
    "{inspector}": "I01",
    "{stage}": "finished",
    "{step}": "turn-edge",
    "{serial}": "B1-001",
    "{serial:path}": "B1-001",
    "{note_id}": "none",
    "{gauge_id}": "none",
    "{part_id}": "none",
    "{of}": "x",
    "{kind}": "x",
    "{group}": "x",
    "{event_id}": "none",
    "{checklist_id}": "small-stove",
    "{check_id}": "dents",
    "{checklist_hash}": "a" * 64,
}
DENIALS = {
    "sign in first",
    "this phone must join again",
    "may not do this",
    "removed this phone",
}


def list_templates(app):
    """{(method, template)} of an app."""
    routes = list_routes(app)
    for route in routes:
        assert isinstance(route, APIRoute), (
            f"{route} is no route with a rule: mounts and plain routes stand outside of them"
        )
    return {(method, route.path) for route in routes for method in route.methods}


@pytest.fixture(scope="module")
def yard():
    yard = open_yard()
    yard.push(
        yard.phone.inspect("B1-001"),
        yard.phone.inspect("B1-002", width="106", disposition="rework"),
    )
    return yard


@pytest.fixture(scope="module")
def callers(yard):
    """A client for each role; a buyer and a stranger bring nothing that is known here."""
    app = yard.client.app
    clients = {
        role: open_client(
            app, cookie=make_cookie(yard.store, code=f"X{role[:5]}".upper(), role=role)
        )
        for role in SIGNED_IN
    }
    phone = open_client(app)
    phone.headers.update(yard.headers)
    return {"anyone": open_client(app), "buyer": open_client(app), "inspector": phone, **clients}


def test_every_route_has_a_rule_and_every_rule_a_route(yard):
    routes, rules = list_templates(yard.client.app), {(rule.method, rule.path) for rule in RULES}
    assert routes == rules
    assert len(RULES) == len(rules), "one rule a route"


@pytest.mark.parametrize("path", ["/", "/yard/new"])
def test_room_with_a_route_that_says_nothing_of_who_may_use_it_does_not_open(path, monkeypatch):
    router = APIRouter()

    @router.get(path)
    def leak():
        return "all"

    monkeypatch.setattr(start, "router", router)
    app = FastAPI(openapi_url=None)
    include_rooms(app, Room(["/"], "phone.app_files:router"), Room([path], "yard.start:router"))
    for use in (lambda: find_rule(app, "GET", path), lambda: list_rules(app)):
        with pytest.raises(StartError, match="does not say who may use it"):
            use()


def test_app_with_a_page_of_fastapis_own_does_not_start():
    with pytest.raises(StartError, match=r"/openapi\.json"):
        include_rooms(FastAPI())


def test_action_that_is_not_in_the_table_cannot_be_declared():
    with pytest.raises(KeyError, match="see_everything"):
        allow("see_everything")


def test_every_rule_names_a_known_action_and_every_action_has_a_route():
    assert {rule.action for rule in (*RULES, *PROGRAMME_RULES)} == set(ACTIONS)
    for action, (_words, roles) in ACTIONS.items():
        assert set(roles) <= set(ROLES), action


def test_every_change_by_an_account_says_what_the_trail_shall_say():
    changes = [
        rule
        for rule in RULES
        if rule.is_change and set(rule.roles) & set(SIGNED_IN) and "anyone" not in rule.roles
    ]
    assert changes and not [rule.path for rule in changes if not rule.audit_message]


def fill(path):
    for part, value in PARTS.items():
        path = path.replace(part, value)
    assert "{" not in path, f"say in PARTS what stands for the part of {path}"
    return path


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: f"{rule.method} {rule.path}")
def test_each_role_gets_what_the_table_says(callers, rule):
    if rule.action == "own_account" and rule.is_change:
        check_denied(callers, rule, allowed=())
        return
    for role, client in callers.items():
        answer = client.request(rule.method, fill(rule.path), follow_redirects=False)
        if role in rule.roles:
            assert answer.status_code < 500 and not is_denied(answer), (
                role,
                answer.status_code,
                answer.text[:200],
            )
    check_denied(callers, rule, allowed=rule.roles)


def check_denied(callers, rule, *, allowed):
    for role, client in callers.items():
        if role not in (allowed or rule.roles):
            answer = client.request(rule.method, fill(rule.path), follow_redirects=False)
            assert answer.status_code in (401, 403) and (
                rule.method == "HEAD" or is_denied(answer)
            ), (role, answer.status_code)


def is_denied(answer):
    text = answer.text
    return answer.status_code in (401, 403) and (
        any(words in text for words in DENIALS) or 'name="wanted"' in text
    )


@pytest.mark.parametrize("role", ["anyone", *SIGNED_IN])
def test_no_page_shows_a_door_that_is_shut(callers, role):
    """Every link and form on every page that this role may open leads where it may go."""
    pages = [
        rule
        for rule in RULES
        if rule.method == "GET"
        and role in rule.roles
        and not rule.path.startswith(
            ("/api/", "/s/", "/static/", "/phone", "/photos", "/guide/pictures")
        )
    ]
    seen = 0
    for rule in pages:
        html = callers[role].get(fill(rule.path)).text
        doors = [("GET", address) for address in re.findall(r'<a[^>]* href="(/[^"#?]*)', html)]
        doors += [
            ("POST", address)
            for address in re.findall(r'<form[^>]* method="post"[^>]* action="(/[^"#?]*)', html)
        ]
        for method, address in doors:
            found = find(method, address)
            assert found and role in found.roles, (rule.path, method, address)
        seen += len(doors)
    assert seen > len(pages)


def test_route_without_a_rule_is_refused_to_everybody(callers):
    app = callers["yard_lead"].app

    @app.get("/batches/{code}/secret")
    def leak(code: str):
        return code

    for client in callers.values():
        assert client.get("/batches/B1/secret").status_code == 404


def test_route_that_hides_behind_another_rules_address_is_refused():
    """An address that fits a rule's template but reaches another route."""
    app = open_yard().client.app

    @app.get("/photos/{other}")
    def leak(other: str):
        return other

    # Put before the real one, as a slip in the order of rooms would do.
    app.router.routes.insert(0, app.router.routes.pop())
    yard = open_yard()
    client = open_client(app, cookie=make_cookie(app.state.store))
    assert client.get("/photos/" + "a" * 64).status_code == 404 and yard


def test_route_reached_by_another_ones_rule_refuses():
    """Should the rule ever be found by another way than the route, the route itself says no."""
    other = next(rule for rule in RULES if rule.path == "/trainer")
    declared = next(rule for rule in RULES if rule.path == "/batches").declared

    class Request:
        state = type("State", (), {"rule": other})
        url = type("Url", (), {"path": "/batches"})

    with pytest.raises(NotFound):
        declared(Request())
    Request.state.rule = None
    with pytest.raises(NotFound):
        declared(Request())


def test_rule_is_that_of_the_route_the_app_reaches():
    assert find("GET", "/trainer/tables.xlsx").path == "/trainer/tables.xlsx"
    assert find("GET", "/yard/people/A01.json").path == "/yard/people/{code}.json"
    assert find("GET", "/phone/").path == "/phone/{rest:path}"
    assert find("GET", "/batches/B1/more") is None
    assert find("HEAD", "/trainer") is None


def test_table_beside_this_is_the_codes():
    assert write_access_table() in TABLE.read_text(encoding="utf-8"), (
        "python3 -m tests.routes prints the table"
    )
