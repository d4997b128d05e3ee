"""The calls against their own description, as each role: generated requests, never a 5xx,
never an undescribed answer.
"""

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from qcapp.access.roles import SIGNED_IN
from qcapp.web.openapi import describe
from tests.builders import make_cookie, open_client, open_yard
from tests.routes import RULES, find

pytestmark = pytest.mark.slow

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
# Small, because the test is in every run: each role and call gets this many requests.
EXAMPLES = 6


def open_described_yard():
    yard = open_yard()
    yard.push(
        yard.phone.inspect("B1-001"),
        yard.phone.inspect("B1-002", width="106", disposition="rework"),
    )
    return yard


YARD = open_described_yard()
APP = YARD.client.app
OPERATIONS = [
    found.ok() for found in schemathesis.openapi.from_dict(describe(APP)).get_all_operations()
]
CLIENTS = {
    "anyone": open_client(APP),
    "inspector": open_client(APP),
    **{
        role: open_client(
            APP, cookie=make_cookie(YARD.store, code=f"Y{role[:5]}".upper(), role=role)
        )
        for role in SIGNED_IN
    },
}
CLIENTS["inspector"].headers.update(YARD.headers)


@pytest.mark.parametrize("role", CLIENTS)
@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.label)
def test_generated_requests_get_described_answers(operation, role):
    rule = find(operation.method.upper(), operation.path)

    @settings(
        max_examples=EXAMPLES,
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy())
    def ask(case):
        wanted = case.as_transport_kwargs(base_url="http://testserver")
        wanted["headers"] = {
            key: value
            for key, value in wanted["headers"].items()
            if key.lower() not in ("authorization", "user-agent")
        }
        wanted.pop("cookies", None)
        answer = CLIENTS[role].request(**wanted, follow_redirects=False)
        if role not in rule.roles and answer.request.url.path.count("/") == operation.path.count(
            "/"
        ):
            assert answer.status_code in (401, 403, 404, 405), answer.status_code
        if operation.method != "head":
            case.validate_response(answer, checks=CHECKS)

    ask()


def test_every_call_is_described_with_its_keys():
    paths = describe(APP)["paths"]
    calls = {
        (rule.method, rule.path)
        for rule in RULES
        if rule.path.startswith("/api/") and rule.path != "/api/openapi.json"
    }
    assert {
        (method.upper(), path) for path, methods in paths.items() for method in methods
    } == calls
    assert paths["/api/sync/push"]["post"]["security"] == [{"phone": []}]
    assert paths["/api/trainer/teach"]["get"]["security"] == [{"session": []}]
    assert paths["/api/sync/hello"]["get"]["security"] == []
    assert YARD.client.get("/api/openapi.json").json() == describe(APP)
