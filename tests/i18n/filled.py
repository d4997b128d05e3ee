"""A yard in which every page has something to show: the demo's, and what the demo leaves out."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from html import unescape
from pathlib import Path

from fastapi.testclient import TestClient

from qcapp.app import create_app
from qcapp.checklist.model import Checklist
from qcapp.cli.lan_listener import LanListener
from qcapp.cli.runner import Runner
from qcapp.i18n.phrase import phrase
from qcapp.settings import Settings
from qcapp.store.registry import checklists
from qcapp.store.registry.checklist_offers import save_offer
from qcapp.usecases.fill_demo import give_to_artisan, give_to_buyer
from qcapp.usecases.laptop import UpdateState
from tests.builders import Phone, Yard, build_small_checklist, make_cookie, open_client
from tests.filled_demo import fill_demo
from tests.routes import RULES, find

# Two of a kind: the newest batch is open, the one before it closed and sold.
MAX_OF_A_KIND = 2
# Addresses that lead nowhere, or ask for what cannot be.
WRONG = (
    "/nowhere",
    "/batches/NONE",
    "/s/unknown",
    "/c/unknown",
    "/batches?skip=x",
    "/trainer?since=tomorrow",
)
# What answers a GET with no page of words: calls, files, the phone app, which chooses its language
# itself.
NO_PAGE = re.compile(
    "|".join(
        (
            *(r"/api/", r"/laptop/version", r"/static/", r"/phone", r"/sw\.js", r"/manifest"),
            *(r"/photos", r"/s/\{token\}/photos", r"/guide/pictures"),
            *(r"/lesson-media", r"/c/\{token\}/lesson"),
            r".*\.(csv|json|pdf|xlsx|yaml)$",
        )
    )
)


@dataclass(frozen=True)
class FilledYard:
    """addresses: of every page, by the template of its route,
    at most two of each and some that tell of an error.
    """

    client: TestClient
    settings: Settings
    addresses: tuple[str, ...]


def open_filled_yard(folder: Path) -> FilledYard:
    now = datetime.now(UTC)
    settings = fill_demo(folder / "filled.db", now)
    app = create_app(settings)
    store = app.state.store
    # As seen by who sits at the laptop, while a new version is being put in.
    app.state.laptop = Runner(settings, 8000, LanListener(folder / "lan"))
    app.state.laptop.update = UpdateState(
        "new.zip", phrase("The file and its signature are looked at.")
    )
    client = open_client(
        app,
        cookie=make_cookie(store, now=now),
        address="http://127.0.0.1",
        caller="127.0.0.1",
    )
    _add_study(client)
    _add_record_set_aside(client, store)
    add_offered_checklist(store)
    made = client.post(
        "/yard/accounts", data={"code": "T07", "name": "Oru Sell", "role": "trainer"}
    ).text
    begun = [
        "/",
        "/trainer",
        f"/s/{give_to_buyer(store, settings, now)}",
        f"/c/{give_to_artisan(store, settings, now)}",
        "/account",
        "/laptop/first",
        "/laptop/update",
        "/sign-in",
        re.search(r"/welcome/[^<]+", made)[0],
    ]
    begun += ["/stoves?serial=B6-001", "/stoves/finished/B5-003"]
    begun += [f"/yard/entry?batch=B6&checklist=finished-stove&stoves={n}" for n in (1, 5)]
    return FilledYard(client, settings, (*dict.fromkeys(_crawl(client, begun)), *WRONG))


def _add_study(client: TestClient) -> None:
    page = client.get("/yard/studies").text
    batch = re.search(r'<option value="(B\d+)"', page)[1]
    fields = {
        name: re.findall(rf'name="{name}" value="([^"]+)"', page)
        for name in ("inspectors", "checks")
    }
    about = {
        "title": "Door",
        "checklist": "finished-stove",
        "batch": batch,
        "stoves": f"{batch}-001 {batch}-002 {batch}-003",
        "repeats": "2",
    }
    assert (
        client.post(
            "/yard/studies",
            data={**about, "inspectors": fields["inspectors"][:2], "checks": fields["checks"][:6]},
        ).status_code
        == 200
    )


def _add_record_set_aside(client: TestClient, store) -> None:
    checklist = build_small_checklist()
    yard = Yard(client, store, checklist, Phone(checklist), {})
    # Signed in and a phone at once would be a phone.
    yard.headers = yard.pair(yard.phone.device_id)
    record = yard.phone.inspect("B1-001")
    yard.push(record)
    with store.reading() as connection:
        own = checklists.get_current_checklist(connection, "finished-stove").compiled()
    # One that asks less than the yard's own; its batch is open, or that would be the reason.
    easier = Checklist.from_compiled({**own, "revision": 99, "checks": own["checks"][1:]})
    body = {**record["body"], "answers": {}, "verdicts": {}}
    phone = Phone(easier, numbers=yard.phone.numbers)
    held = phone.seal("inspection", "B6-001", body, batch="B6")
    (result,) = yard.push(held, definitions=[easier.compiled()])["results"]
    assert result["reason"]["code"] == "unpublished_checklist"


def add_offered_checklist(store) -> None:
    """What the lead of several yards would like this one to use: a check more than it has."""
    with store.writing() as connection:
        current = checklists.get_current_checklist(connection, "finished-stove").compiled()
        first = {**current["checks"][0], "id": "a-new-check"}
        offered = {
            **current,
            "revision": current["revision"] + 1,
            "checks": [*current["checks"], first],
        }
        save_offer(
            connection, Checklist.from_compiled(offered), by="P1", now="2026-11-20T08:00:00.000Z"
        )


def _crawl(client: TestClient, begun: list[str]) -> Iterator[str]:
    """Follows the pages' own links; a new kind of page is found by the link that leads to it."""
    seen: dict[str, int] = {}
    known, ahead = set(begun), list(begun)
    while ahead:
        address = ahead.pop(0)
        rule = find("GET", address.split("?")[0])
        if rule is None or NO_PAGE.match(rule.path) or seen.get(rule.path, 0) >= MAX_OF_A_KIND:
            continue
        seen[rule.path] = seen.get(rule.path, 0) + 1
        answer = client.get(address)
        assert answer.status_code == 200, (address, answer.text[-400:])
        yield address
        found = [unescape(link) for link in re.findall(r'href="(/[^"#]*)"', answer.text)]
        ahead += [link for link in dict.fromkeys(found) if link not in known]
        known.update(found)
    missed = {
        rule.path for rule in RULES if rule.method == "GET" and not NO_PAGE.match(rule.path)
    } - set(seen)
    assert not missed, f"no link leads to {missed}: name an address of it in {__file__}"
