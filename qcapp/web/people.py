"""The yard lead's page of names: what is kept of a person, and erasing a name without touching a count."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, RedirectResponse

from qcapp.store import accounts, people
from qcapp.store.personal import build_personal_record, erase_name
from qcapp.web.deps import StoreDep
from qcapp.web.pages import page
from qcapp.words.phrase import phrase

router = APIRouter(include_in_schema=False)


@router.get("/yard/people")
def show_people(request: Request, store: StoreDep):
    with store.reading() as connection:
        listed = people.list_people(connection)
        holders = accounts.list_accounts(connection)
    known = {person["code"] for person in listed}
    rows = [{"code": p["code"], "name": p["name"], "is": "inspector" if p["is_inspector"] else "artisan"} for p in listed]
    rows += [{"code": row.code, "name": row.name, "is": row.role.replace("_", " ")} for row in holders if row.code not in known]
    return page(request, "people.html", title=phrase("Names"), rows=rows)


@router.get("/yard/people/{code}.json")
def get_personal_record(code: str, store: StoreDep):
    with store.reading() as connection:
        record = build_personal_record(connection, code)
    return JSONResponse(record, headers={"Content-Disposition": 'attachment; filename="person.json"'})


@router.post("/yard/people/{code}/erase")
def erase(code: str, store: StoreDep):
    with store.writing() as connection:
        erase_name(connection, code)
    return RedirectResponse("/yard/people", status_code=303)
