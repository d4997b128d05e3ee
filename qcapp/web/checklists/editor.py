"""The yard lead's pages of checklists: what is in use, one's own limits and words field by field, or the YAML itself."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.datastructures import UploadFile

from qcapp.checklist.source import LONGEST_FILE
from qcapp.checklist.write import as_source, write_yaml
from qcapp.errors import BadInput, Clash
from qcapp.i18n.catalogue import list_languages, name_language
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.store.registry import checklists
from qcapp.web.checklists.editor_form import (
    Draft,
    Editor,
    draft_from_fields,
    draft_of_any,
    fill_fields,
    get_editor,
    publish,
)
from qcapp.web.checklists.editor_view import list_keys, place_errors, view_checks, view_names
from qcapp.web.deps import LongFormDep, NowDep, SettingsDep, StoreDep
from qcapp.web.forms import PageForm
from qcapp.web.layout.template_filters import as_translated
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.middleware.security_headers import LIVE_POLICY
from qcapp.web.rules import allow

# A checklist as a form or as YAML; a form writes every character that is no letter as three.
MAX_CHECKLIST_BYTES = 2 * 1024 * 1024
router = APIRouter(include_in_schema=False)


@router.get("/yard/checklists", dependencies=[allow("write_checklists")])
def show_checklists(request: Request, store: StoreDep):
    with store.reading() as connection:
        current = [found.compiled for found in checklists.list_current_definitions(connection)]
        own = checklists.list_revisions(connection)
    rows = [
        {**one, "kept": [row for row in own if row.checklist_id == one["id"]]} for one in current
    ]
    for row in rows:
        row["is_shipped"] = all(kept.origin == "file" for kept in row["kept"])
        row["newer_file"] = (
            not row["is_shipped"]
            and max((kept.revision for kept in row["kept"] if kept.origin == "file"), default=0)
            >= row["revision"]
        )
    return yard_page(
        request, store, "checklists/checklists.html", title=phrase("Checklists"), rows=rows
    )


@router.get("/yard/checklists/{checklist_id}.yaml", dependencies=[allow("write_checklists")])
def get_yaml(checklist_id: str, store: StoreDep, settings: SettingsDep):
    current = get_editor(store, settings.checklists_dir, checklist_id).current
    headers = {
        "Content-Disposition": f'attachment; filename="{current.id}-{current.revision}.yaml"'
    }
    return Response(
        write_yaml(as_source(current.compiled())), media_type="application/yaml", headers=headers
    )


@router.get("/yard/checklists/{checklist_id}", dependencies=[allow("write_checklists")])
def show_fields(
    request: Request,
    checklist_id: str,
    store: StoreDep,
    settings: SettingsDep,
    shipped: bool = False,
):
    bench = get_editor(store, settings.checklists_dir, checklist_id)
    begin = bench.shipped if shipped and bench.shipped else bench.current
    return _fields_page(request, store, bench, fill_fields(bench, begin), None)


@router.post(
    "/yard/checklists/{checklist_id}/check",
    dependencies=[allow("write_checklists", "checklist_checked", max_bytes=MAX_CHECKLIST_BYTES)],
)
def check_fields(
    request: Request, checklist_id: str, store: StoreDep, settings: SettingsDep, typed: LongFormDep
):
    request.state.about = None
    bench = get_editor(store, settings.checklists_dir, checklist_id)
    draft = draft_from_fields(bench, typed)
    if wants_json(request):
        return _tell(
            draft, list(place_errors(draft.errors, list_keys(typed, view_checks(bench))).items())
        )
    return _fields_page(request, store, bench, typed, draft)


@router.post(
    "/yard/checklists/{checklist_id}",
    dependencies=[allow("write_checklists", "checklist_published", max_bytes=MAX_CHECKLIST_BYTES)],
)
def publish_fields(
    request: Request,
    checklist_id: str,
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    typed: LongFormDep,
):
    bench = get_editor(store, settings.checklists_dir, checklist_id)
    draft = draft_from_fields(bench, typed)
    error = _say_overtaken(bench) if typed.get("revision") != str(bench.next_revision) else ""
    try:
        done = None if error else _publish(request, store, bench, draft, typed, now)
    except Clash:
        bench = get_editor(store, settings.checklists_dir, checklist_id)
        done, error = None, _say_overtaken(bench)
    return done or _fields_page(request, store, bench, typed, draft, error)


@router.get("/yard/checklist-text", dependencies=[allow("write_checklists")])
def show_text(request: Request, store: StoreDep):
    return _text_page(request, store, "", None)


async def read_text_form(request: Request) -> dict[str, str]:
    """The text that was typed, or that of the chosen file."""
    async with request.form(max_files=1, max_fields=5) as form:
        values = {key: value for key, value in form.items() if isinstance(value, str)}
        file = form.get("file")
        if isinstance(file, UploadFile):
            values["text"] = as_utf8(await file.read(LONGEST_FILE + 1))
    return values


def as_utf8(content: bytes) -> str:
    """Raises BadInput for a file that cannot be a checklist."""
    if not content or len(content) > LONGEST_FILE:
        todo = phrase(
            "choose a YAML file of at most %(longest_file)s bytes", longest_file=LONGEST_FILE
        )
        raise BadInput(phrase("no file was chosen, or it is empty or too long"), "file", todo)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput(
            phrase("the file is no text in UTF-8"),
            "file",
            phrase("save it as plain text in UTF-8 and choose it again"),
        ) from error


TextDep = Annotated[dict[str, str], Depends(read_text_form)]


@router.post(
    "/yard/checklist-text/check",
    dependencies=[allow("write_checklists", "checklist_checked", max_bytes=MAX_CHECKLIST_BYTES)],
)
def check_text(request: Request, store: StoreDep, settings: SettingsDep, typed: TextDep):
    request.state.about = None
    _bench, draft = draft_of_any(store, settings.checklists_dir, typed.get("text", ""))
    if wants_json(request):
        return _tell(draft, list_by_line(draft))
    return _text_page(request, store, typed.get("text", ""), draft)


@router.post(
    "/yard/checklist-text",
    dependencies=[allow("write_checklists", "checklist_published", max_bytes=MAX_CHECKLIST_BYTES)],
)
def publish_text(
    request: Request, store: StoreDep, settings: SettingsDep, now: NowDep, typed: TextDep
):
    text = typed.get("text", "")
    bench, draft = draft_of_any(store, settings.checklists_dir, text)
    try:
        done = _publish(request, store, bench, draft, typed, now)
    except Clash:
        # The number was taken a moment ago: the check says so, with its line.
        done, draft = None, draft_of_any(store, settings.checklists_dir, text)[1]
    return done or _text_page(request, store, text, draft)


def wants_json(request: Request) -> bool:
    """Whether the page's own script asks, which checks while one types."""
    return "application/json" in request.headers.get("accept", "")


def _publish(
    request: Request, store, bench: Editor, draft: Draft, typed: dict, now
) -> Response | None:
    """None when the page must come back: errors, or notices that were not shown yet. Raises Clash."""
    if draft.checklist is None or draft.seen != typed.get("seen", ""):
        request.state.about = None
        return None
    publish(store, bench, draft.checklist, now)
    left = [notice.key for notice in draft.notices if notice.is_safety]
    request.state.about = {
        "checklist": draft.checklist.key,
        "hash": draft.checklist.hash[:16],
        "weaker_in": ", ".join(left),
    }
    return RedirectResponse("/yard/checklists", status_code=303)


def list_by_line(draft: Draft | None) -> list[tuple[str, str]]:
    """A text has no field but one, so each error names its line."""
    return [
        (
            "",
            phrase(
                "Line %(line)s, %(key)s: %(what)s; %(todo)s.",
                line=error.line,
                key=error.key,
                what=error.what,
                todo=error.todo,
            ),
        )
        for error in (draft.errors if draft else ())
    ]


def _tell(draft: Draft, wrong: list[tuple[str, str]]) -> JSONResponse:
    """wrong: (key of the field, what is wrong and what to do). Said here, because a person reads it: the page's script shows it as it comes."""
    notices = [
        {"text": as_translated(notice.text), "is_safety": notice.is_safety}
        for notice in draft.notices
    ]
    return JSONResponse(
        {"wrong": [(key, as_translated(text)) for key, text in wrong], "notices": notices}
    )


def _say_overtaken(bench: Editor) -> Phrase:
    return phrase(
        "Revision %(current)s was published meanwhile. Your fields are still here: compare them with it, then publish them as revision %(next)s.",
        current=str(bench.current.revision),
        next=str(bench.next_revision),
    )


def _fields_page(
    request: Request, store, bench: Editor, typed: dict, draft: Draft | None, error: str = ""
):
    checks = view_checks(bench)
    wrong = place_errors(draft.errors, list_keys(typed, checks)) if draft else {}
    if error:
        request.state.about = None
        wrong[""] = error
    form, keys = PageForm(typed, wrong), [check.key for check in checks]
    # A check with something to mend is shown open.
    opened = {
        key for key in keys if any(name == key or name.startswith(f"{key}.") for name in wrong)
    }
    return _live(
        yard_page(
            request,
            store,
            "checklists/fields.html",
            form,
            title=phrase("Change: %(title)s", title=text_of(bench.current.title)),
            bench=bench,
            checks=checks,
            names=view_names(bench),
            draft=draft,
            open=opened,
            found=list(wrong.items()),
            language_names={language: name_language(language) for language in list_languages()},
        )
    )


def _text_page(request: Request, store, text: str, draft: Draft | None):
    title, found = phrase("A checklist as YAML"), list_by_line(draft)
    answer = _live(
        yard_page(
            request, store, "checklists/text.html", title=title, text=text, draft=draft, found=found
        )
    )
    answer.status_code = 400 if draft and draft.errors else 200
    return answer


def _live(answer: Response) -> Response:
    """These pages have a script of their own, from this server and nowhere else."""
    answer.headers["Content-Security-Policy"] = LIVE_POLICY
    return answer
