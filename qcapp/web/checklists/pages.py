"""The yard lead's page of checklists: those in use, each as a file."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from qcapp.checklist.write import as_source, write_yaml
from qcapp.i18n.phrase import phrase
from qcapp.usecases.checklist_editor import get_editor
from qcapp.usecases.decide_offered_checklist import list_offered_here
from qcapp.usecases.list_checklists import list_rows, load_drafts
from qcapp.web.deps import SettingsDep, StoreDep
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/checklists", include_in_schema=False)


@router.get("", dependencies=[allow("draft_checklists")])
def show_checklists(request: Request, store: StoreDep, settings: SettingsDep) -> Response:
    with store.reading() as connection:
        offered = list_offered_here(connection)
    return yard_page(
        request,
        store,
        "checklists/checklists.html",
        title=phrase("Checklists"),
        rows=list_rows(store, settings.checklists_dir),
        drafts=load_drafts(store),
        offered=offered,
    )


@router.get("/{checklist_id}.yaml", dependencies=[allow("draft_checklists")])
def get_yaml(checklist_id: str, store: StoreDep, settings: SettingsDep) -> Response:
    current = get_editor(store, settings.checklists_dir, checklist_id).in_use
    name = f"{current.id}-{current.revision}.yaml"
    return Response(
        write_yaml(as_source(current.compiled())),
        media_type="application/yaml",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
