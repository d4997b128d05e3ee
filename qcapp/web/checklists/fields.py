"""The yard's own limits and words of a checklist, field by field."""

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from qcapp.errors import Clash
from qcapp.i18n.catalogue import list_languages, name_language
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.store.engine import Store
from qcapp.usecases.form import OpenForm
from qcapp.usecases.publish_checklist import (
    Draft,
    Editor,
    draft_from_fields,
    fill_fields,
    get_editor,
)
from qcapp.web.checklists.editor_view import (
    CheckView,
    list_keys,
    place_errors,
    view_checks,
    view_names,
)
from qcapp.web.checklists.publishing import answer_check, let_check, publish_draft, wants_json
from qcapp.web.deps import MAX_SHEET_FIELDS, NowDep, SettingsDep, StoreDep
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/checklists/{checklist_id}", include_in_schema=False)
# A form writes every character that is no letter as three.
MAX_FORM_BYTES = 2 * 1024 * 1024


class ChecklistForm(OpenForm):
    """revision: the number that the page offered; seen: names the notices that it showed. Further
    fields: what can be changed, by its key in the YAML, and use.CHECK for a check that is asked.
    """

    revision: str = ""
    seen: str = ""


@router.get("", dependencies=[allow("write_checklists")])
def show_fields(
    request: Request,
    checklist_id: str,
    store: StoreDep,
    settings: SettingsDep,
    shipped: bool = False,
) -> Response:
    editor = get_editor(store, settings.checklists_dir, checklist_id)
    begun = editor.shipped if shipped and editor.shipped else editor.in_use
    return _fields_page(
        request, store, editor, ChecklistForm.model_validate(fill_fields(editor, begun)), None
    )


@router.post(
    "/check",
    dependencies=[allow("write_checklists", "checklist_checked", max_bytes=MAX_FORM_BYTES)],
    form_limits={"max_fields": MAX_SHEET_FIELDS},
)
def check_fields(
    request: Request,
    checklist_id: str,
    store: StoreDep,
    settings: SettingsDep,
    form: Annotated[ChecklistForm, Form()],
) -> Response:
    request.state.about = None
    editor = get_editor(store, settings.checklists_dir, checklist_id)
    draft = draft_from_fields(editor, form.values)
    if wants_json(request):
        wrong = _place_errors(draft, form, view_checks(editor))
        return answer_check(draft, list(wrong.items()))
    return _fields_page(request, store, editor, form, draft)


@router.post(
    "",
    dependencies=[allow("write_checklists", "checklist_published", max_bytes=MAX_FORM_BYTES)],
    form_limits={"max_fields": MAX_SHEET_FIELDS},
)
def publish_fields(
    request: Request,
    checklist_id: str,
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    form: Annotated[ChecklistForm, Form()],
) -> Response:
    editor = get_editor(store, settings.checklists_dir, checklist_id)
    draft = draft_from_fields(editor, form.values)
    is_overtaken = form.revision != str(editor.next_revision)
    done = None
    try:
        if not is_overtaken:
            done = publish_draft(request, store, editor, draft, form.seen, now)
    except Clash:
        editor, is_overtaken = get_editor(store, settings.checklists_dir, checklist_id), True
    error = _say_overtaken(editor) if is_overtaken else ""
    return done or _fields_page(request, store, editor, form, draft, error)


def _say_overtaken(editor: Editor) -> Phrase:
    return phrase(
        "Revision %(current)s has been published in the meantime. Your changes are still here: "
        "compare them with it, then publish them as revision %(next)s.",
        current=str(editor.in_use.revision),
        next=str(editor.next_revision),
    )


def _place_errors(
    draft: Draft | None, form: ChecklistForm, checks: list[CheckView]
) -> dict[str, str]:
    return place_errors(draft.errors, list_keys(form.values, checks)) if draft else {}


def _fields_page(
    request: Request,
    store: Store,
    editor: Editor,
    form: ChecklistForm,
    draft: Draft | None,
    error: str = "",
) -> Response:
    checks = view_checks(editor)
    wrong = _place_errors(draft, form, checks)
    if error:
        request.state.about = None
        wrong[""] = error
    form.refuse_all(wrong)
    answer = yard_page(
        request,
        store,
        "checklists/fields.html",
        form,
        title=phrase("Change: %(title)s", title=text_of(editor.in_use.title)),
        editor=editor,
        checks=checks,
        names=view_names(editor),
        draft=draft,
        open=_list_opened(checks, wrong),
        found=list(wrong.items()),
        language_names={language: name_language(language) for language in list_languages()},
    )
    return let_check(answer)


def _list_opened(checks: list[CheckView], wrong: Mapping[str, str]) -> set[str]:
    """A check with something to mend is shown open."""
    return {
        check.key
        for check in checks
        if any(name == check.key or name.startswith(f"{check.key}.") for name in wrong)
    }
