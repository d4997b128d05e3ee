"""Rooms are loaded when an address of theirs is asked, and what is found then is what would be
found if all were loaded.
"""

import re

import pytest
from fastapi import FastAPI

from qcapp.app import COMMON_ROOMS, ROOMS
from qcapp.programme_app import PROGRAMME_ROOMS
from qcapp.web.rooms import Room, find_rule, has_room, list_methods, list_rules
from tests.builders import ROOT, open_yard

SERVERS = {"yard": (*COMMON_ROOMS, *ROOMS), "programme": (*COMMON_ROOMS, *PROGRAMME_ROOMS)}
ROUTER = re.compile(r"^(\w+) = APIRouter\(", re.MULTILINE)
STRANGE = ("/nothing", "/trainer/nothing", "/yard/people/A01/more", "/batches/B1/x", "/yardx", "//")


def open_app(rooms) -> FastAPI:
    """With rooms of its own, none loaded yet."""
    app = FastAPI(openapi_url=None)
    app.router.routes.extend(Room(room.addresses, *room.modules) for room in rooms)
    return app


def list_loaded(app: FastAPI) -> list[Room]:
    return [room for room in app.routes if "routes" in vars(room)]


def test_each_router_is_in_a_room():
    web = ROOT / "qcapp" / "web"
    written = {
        ".".join(path.relative_to(web).with_suffix("").parts) + f":{name}"
        for path in web.rglob("*.py")
        for name in ROUTER.findall(path.read_text(encoding="utf-8"))
    }
    in_rooms = [module for rooms in SERVERS.values() for room in rooms for module in room.modules]
    assert written == set(in_rooms)
    assert len(in_rooms) == len(written) + len([m for room in COMMON_ROOMS for m in room.modules])


@pytest.mark.parametrize("rooms", SERVERS.values(), ids=SERVERS)
def test_a_rooms_addresses_hold_each_of_its_routes(rooms):
    for room in rooms:
        assert [route.path for route in room.routes if not room.holds(route.path)] == []
        # And none of them is left from a route that went.
        for address in room.addresses:
            assert any(
                Room([address]).holds(route.path.replace("{", "").replace("}", ""))
                for route in room.routes
            ), address


@pytest.mark.parametrize("rooms", SERVERS.values(), ids=SERVERS)
def test_what_an_address_reaches_is_the_same_whatever_was_loaded_before(rooms):
    whole = open_app(rooms)
    asked = [(rule.method, rule.path) for rule in list_rules(whole)]
    for method, path in [*asked, *(("GET", path) for path in STRANGE)]:
        app = open_app(rooms)
        assert find_rule(app, method, path) == find_rule(whole, method, path), (method, path)
        assert list_methods(app, path) == list_methods(whole, path), path
        assert list_loaded(app) == [room for room in app.routes if room.holds(path)], path
        assert has_room(whole, path) or find_rule(whole, method, path) is None


def test_a_request_reaches_the_rooms_route_with_its_method_and_its_value():
    client = open_yard().client
    assert client.get("/trainer/steps").status_code == 200
    assert client.get("/yard/people/A01").status_code == 200
    assert client.get("/yard/people/nobody").status_code == 404
    refused = client.request("DELETE", "/trainer/steps")
    assert refused.status_code == 405 and refused.headers["allow"] == "GET"
    assert client.get("/trainer/nothing").status_code == 404
