"""What the pages of a draft share: the bar that says how far it is, the change that each form
makes, errors beside their fields.
"""

from collections.abc import Collection, Mapping
from typing import Annotated, Any

from fastapi import Depends, Request
from fastapi.responses import RedirectResponse, Response

from qcapp.checklist.pictures import PICTURES
from qcapp.i18n.catalogue import list_languages, name_language
from qcapp.i18n.localized_text import text_of
from qcapp.usecases.draw_checklist import DraftDrawings
from qcapp.usecases.edit_checklist import OpenDraft, Work, change_draft, load_open_draft
from qcapp.usecases.form import TypedForm
from qcapp.web.checklists.error_places import place_errors
from qcapp.web.checklists.field_views import FieldsOf
from qcapp.web.checklists.plain_errors import say_with_place
from qcapp.web.deps import NowDep, SettingsDep, StoreDep
from qcapp.web.layout.yard_page import yard_page

MAX_FORM_BYTES = 2 * 1024 * 1024
DRAFT = "draft_checklists"


class DraftPage:
    """One request about one draft."""

    def __init__(
        self,
        request: Request,
        checklist_id: str,
        store: StoreDep,
        settings: SettingsDep,
        now: NowDep,
    ) -> None:
        self.request, self.store, self.now = request, store, now
        self.draft: OpenDraft = load_open_draft(store, settings.checklists_dir, checklist_id)
        editor = self.draft.editor
        kept = {**editor.shown, **editor.drawn}
        self.drawings: Mapping[str, str] = DraftDrawings(settings.checklists_dir, kept)
        self.address = f"/yard/checklists/{checklist_id}"

    @property
    def caller(self) -> str:
        return self.request.state.caller.code or ""

    def change(self, work: Work, version: str = "") -> bool:
        """Stores one change; version: of the draft that the page showed, empty where it does not
        matter. Raises Clash.
        """
        # The draft itself keeps who changed it when; the trail says what was published.
        self.request.state.about = None
        shown = int(version) if version.isascii() and version.isdigit() else None
        return change_draft(
            self.store, self.draft, work, by=self.caller, now=self.now, version=shown
        )

    def go(self, page: str = "") -> Response:
        return RedirectResponse(f"{self.address}{page}", status_code=303)

    def fields(self, typed: Mapping[str, str] | None = None) -> FieldsOf:
        pictures = [
            name.removeprefix(f"{PICTURES}/").removesuffix(".svg")
            for name in self.drawings
            if name.startswith(f"{PICTURES}/")
        ]
        return FieldsOf(self.draft.source, typed or {}, pictures)

    def place_errors(self, places: Collection[str]) -> dict[str, str]:
        """Those of this page, by field; what belongs to another page is left out."""
        found = place_errors(self.draft.checked.errors, places, self.draft.source)
        found.pop("", None)
        return found

    def render(
        self,
        template: str,
        *,
        title: str,
        places: Collection[str] = (),
        form: TypedForm | None = None,
        **values: Any,
    ) -> Response:
        """places: keys at which an error may stand on this page."""
        return yard_page(
            self.request,
            self.store,
            f"checklists/{template}",
            form,
            title=title,
            draft=self.draft,
            address=self.address,
            name=text_of(self.draft.source["title"]),
            wrong=self.place_errors(places),
            is_saved="saved" in self.request.query_params,
            language_names={language: name_language(language) for language in list_languages()},
            **values,
        )


DraftPageDep = Annotated[DraftPage, Depends(DraftPage)]


# Where an error of a key of the checklist is mended.
PAGES = {
    "steps": "/steps",
    "first_piece": "/steps",
    "tools": "/steps",
    "title": "/steps",
    "stage": "/steps",
    "made_from": "/steps",
    "same_serial": "/steps",
    "parts": "/drawing",
    "drawing": "/drawing",
    "sizes": "/sizes",
}


def list_error_pages(page: DraftPage) -> list[tuple[str, str]]:
    """(address of the page, what is wrong) of every error of the draft."""
    errors = page.draft.checked.errors
    checks = {check["id"] for check in page.draft.source["checks"]}
    found = []
    for error in errors:
        group, _dot, rest = error.key.partition(".")
        item = rest.partition(".")[0]
        address = PAGES.get(group, "")
        if group == "checks" and item in checks:
            address = f"/checks/{item}"
        found.append((f"{page.address}{address}", say_with_place(error, page.draft.source)))
    return found
