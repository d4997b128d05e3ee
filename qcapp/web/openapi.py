"""The description of the calls (OpenAPI), as a route like any other, so that the rules hold for it.

FastAPI writes what goes in and comes out; here is added what it cannot know: the shape of our
errors, who may call, and answers without a body.
"""

from typing import Any

from fastapi import APIRouter, FastAPI, Request
from fastapi.openapi.utils import get_openapi
from fastapi.responses import JSONResponse

from qcapp.web.rooms import list_routes, list_rules
from qcapp.web.rules import Rule, allow

router = APIRouter(include_in_schema=False)

ERROR = {
    "type": "object",
    "required": ["error"],
    "properties": {
        "error": {
            "type": "object",
            "required": ["what", "where", "todo"],
            "properties": {name: {"type": "string"} for name in ("what", "where", "todo")},
        }
    },
}
KEYS = {
    "phone": {"type": "http", "scheme": "bearer", "description": "a joined phone's token"},
    "session": {
        "type": "apiKey",
        "in": "cookie",
        "name": "qcapp",
        "description": "of a signed-in browser; __Host-qcapp over https",
    },
}
# What comes back without a body of JSON: (method, path): {status: meaning}.
BARE = {
    ("GET", "/api/sync/reference"): {
        "304": "what the phone has is still the newest (If-None-Match)"
    },
    ("HEAD", "/api/photos/{sha256}"): {
        "200": "Upload-Offset: bytes here so far",
        "default": "an error; without a body, as HEAD is",
    },
    ("PATCH", "/api/photos/{sha256}"): {
        "204": "Upload-Offset: bytes here now",
        "409": "Upload-Offset: go on from there",
    },
}


def describe(app: FastAPI) -> dict[str, Any]:
    """The whole description, built once for an app."""
    if app.openapi_schema is None:
        made = get_openapi(title=app.title, version=app.version, routes=list_routes(app))
        made["components"]["securitySchemes"] = KEYS
        made["components"]["schemas"]["Error"] = ERROR
        rules = {(rule.method, rule.path): rule for rule in list_rules(app)}
        for path, operations in made["paths"].items():
            for method, operation in operations.items():
                _complete(operation, rules[method.upper(), path])
        app.openapi_schema = made
    return app.openapi_schema


def _complete(operation: dict[str, Any], rule: Rule) -> None:
    answers = operation["responses"]
    # FastAPI describes its own shape of a 422; ours is the same as for every other error.
    answers.pop("422", None)
    shape = {"application/json": {"schema": {"$ref": "#/components/schemas/Error"}}}
    answers["default"] = {"description": "an error: what, where, what to do", "content": shape}
    bare = BARE.get((rule.method, rule.path), {})
    if "204" in bare:
        answers.pop("200", None)
    answers.update({status: {"description": words} for status, words in bare.items()})
    roles = rule.roles
    keys = ["phone"] * ("inspector" in roles) + ["session"] * ("yard_lead" in roles)
    operation["security"] = [] if "anyone" in roles else [{key: []} for key in keys]


@router.get("/api/openapi.json", dependencies=[allow("own_account")])
def get_description(request: Request) -> JSONResponse:
    return JSONResponse(describe(request.app))
