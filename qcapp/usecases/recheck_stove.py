"""The buyer's inspector checks offered stoves again, one by one."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, BinaryIO

from pydantic import Field

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.reports.summary_recheck import Recheck, combine_rechecks, describe_looks
from qcapp.store.engine import Store
from qcapp.store.queries import summaries
from qcapp.store.queries.batch_facts import list_batch_events, list_buyers_looks
from qcapp.store.registry import photos
from qcapp.store.registry.checklists import load_checklists
from qcapp.store.registry.summary_links import SummaryLink
from qcapp.sync.photos import receive_whole
from qcapp.sync.shrink import shrink_photo
from qcapp.usecases.answer_summary import record_answer
from qcapp.usecases.form import OpenForm

MAX_PHOTOS = 3
MAX_NAME, MAX_NOTE = 40, 1000


class StoveForm(OpenForm):
    """Further fields: check.ID, "pass" or "fail"; empty or missing where it was not made."""

    number: int = Field(ge=1)
    serial: str = ""
    note: str = ""
    by: str = ""

    @property
    def checks(self) -> dict[str, str]:
        return {key: mark for key, mark in self.list_group("check").items() if mark}


def list_offered(document: Mapping[str, Any]) -> list[str]:
    """Serials of the stoves a summary offers; none in one from before serials were listed."""
    serials = document.get("serials") or {"release": [], "concession": []}
    return sorted([*serials["release"], *serials["concession"]])


def load_rechecked(store: Store, batch: str) -> Recheck | None:
    """What was entered so far, behind the link and on the phone of the buyer's inspector."""
    with store.reading() as connection:
        events = list_batch_events(connection, batch)
        looks = list_buyers_looks(connection, batch)
        proof = summaries.find_proof(connection, batch)
        if not looks or proof is None:
            return combine_rechecks(events)
        document = proof["summary"]
        key = document["checklist"]["hash"]
        checklist = load_checklists(connection, [key])[key]
    return combine_rechecks(events, describe_looks(looks, checklist, document["batch"]))


def recheck_stove(
    store: Store,
    link: SummaryLink,
    document: Mapping[str, Any],
    form: StoveForm,
    files: Sequence[BinaryIO],
    now: datetime,
) -> None:
    """Records one stove as it was found. Keeps nothing when the form says what is wrong."""
    _check_form(form, document)
    shrunk = _shrink(form, files)
    if form.wrong:
        return
    for sha256, content in shrunk.items():
        receive_whole(store, sha256, content, sender=None, now=now)
    stove = {
        "serial": form.serial,
        "checks": form.checks,
        "note": form.note,
        "photos": list(shrunk),
    }
    body = {
        "n": 1,
        "failed": int("fail" in form.checks.values()),
        "note": "",
        "number": form.number,
        "link": link.label,
        "stoves": [stove],
    }
    record_answer(store, link, kind="recheck", by=form.by, body=body, now=now)
    with store.writing() as connection:
        photos.add_names(connection, shrunk)


def _check_form(form: StoveForm, document: Mapping[str, Any]) -> None:
    if form.serial not in list_offered(document):
        form.refuse("serial", phrase("This serial is not offered. Choose one of the list."))
    known = {check["check"] for check in document.get("checks", ())}
    if not form.checks:
        form.refuse("checks", phrase("No check is marked. Mark at least one that you made."))
    elif not set(form.checks) <= known or not set(form.checks.values()) <= {"pass", "fail"}:
        form.refuse("checks", phrase("These are not the checks of this batch. Reload the page."))
    if not 0 < len(form.by) <= MAX_NAME:
        form.refuse(
            "by", phrase("A name or code is needed, of at most %(most)s characters.", most=MAX_NAME)
        )
    if len(form.note) > MAX_NOTE:
        form.refuse(
            "note", phrase("This is too long. Write at most %(most)s characters.", most=MAX_NOTE)
        )


def _shrink(form: StoveForm, files: Sequence[BinaryIO]) -> dict[str, bytes]:
    """JPEG by SHA-256."""
    if len(files) > MAX_PHOTOS:
        form.refuse(
            "photos", phrase("These are too many. Choose at most %(most)s photos.", most=MAX_PHOTOS)
        )
        return {}
    try:
        return dict(map(shrink_photo, files))
    except BadInput:
        form.refuse(
            "photos", phrase("A picture cannot be read. Choose JPEG, PNG or WebP pictures.")
        )
        return {}
