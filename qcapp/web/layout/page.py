"""Rendering of pages for people: Jinja2, escaped, in the language of whoever reads (language.py,
template_words.py).
"""

from pathlib import Path
from typing import Any

from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from starlette.datastructures import State

from qcapp.access.roles import may
from qcapp.access.sessions import NOBODY
from qcapp.errors import StoreError
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import phrase
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.yard_state import read_yard_name
from qcapp.web.layout.template_filters import install_filters
from qcapp.web.layout.whole_codes import keep_codes_whole
from qcapp.web.layout.yard_groups import GROUPS, find_here
from qcapp.web.middleware.language import list_choices
from qcapp.web.rooms import has_room

TEMPLATES = Environment(
    loader=FileSystemLoader(Path(__file__).parent.parent),
    autoescape=select_autoescape(),
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
install_filters(TEMPLATES)


# Address, action of the route behind it, words, other addresses that belong to it. A link is shown
# to whom its rule lets in; to find that rule would load its room (tests/web/test_navigation.py).
NAV = (
    ("/trainer", "see_figures", phrase("Trainer"), ()),
    ("/batches", "see_batches", phrase("Batches"), ()),
    ("/yard", "manage_phones", phrase("Yard"), ()),
    ("/yard/accounts", "manage_accounts", phrase("Accounts"), ("/yard/trail", "/account")),
    ("/phone/", "open_app", phrase("Inspect"), ()),
)


def render_page(request: Request, template: str, **values: Any) -> str:
    state = request.app.state
    caller = getattr(request.state, "caller", NOBODY)
    path = request.url.path
    nav = [
        (href, name)
        for href, action, name, _more in NAV
        if _is_open(request.app, href, action, caller.role)
    ]
    shared = {
        "base": state.shell.base,
        "has_laptop": state.laptop is not None,
        "is_demo": state.has_no_passwords,
        "printed_at": format_timestamp(state.clock()),
        "yard_name": _find_yard_name(state),
        "path": path,
        "caller": caller,
        "nav": nav,
        "here": _find_place(path),
        "yard_groups": GROUPS,
        "find_yard_place": find_here,
        "may": lambda action: may(caller.role, action),
        "opens": lambda linked: _is_open(request.app, linked.href, linked.action, caller.role),
        "words": get_active_locale(),
        "languages": list_choices(request),
    }
    return keep_codes_whole(TEMPLATES.get_template(template).render(**shared, **values))


def _find_yard_name(state: State) -> str:
    """The setting where the database cannot be asked: a page that tells of this must still open."""
    try:
        return read_yard_name(state.store, state.settings.yard_name)
    except StoreError:
        return str(state.settings.yard_name)


def _is_open(app: FastAPI, href: str, action: str, role: str) -> bool:
    return may(role, action) and has_room(app, href)


def _find_place(path: str) -> str | None:
    """Of the navigation's places that this address lies in, the innermost."""
    places = [
        (place, href)
        for href, _action, _name, more in NAV
        for place in (href, *more)
        if path.startswith(place)
    ]
    return max(places, key=lambda found: len(found[0]))[1] if places else None


def page(request: Request, template: str, **values: Any) -> HTMLResponse:
    return HTMLResponse(render_page(request, template, **values))
