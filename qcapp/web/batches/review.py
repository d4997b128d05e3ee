"""What the lead does about a batch: decide about held stoves, agree a plan, overrule, issue a
summary, give and take back links, reply to the buyer.
"""

import secrets
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field, StringConstraints

from qcapp.access.summary_links import revoke_summary_link
from qcapp.i18n.phrase import phrase
from qcapp.reports.plan import PlanRequest
from qcapp.reports.summary_wording import word_summary
from qcapp.reports.totals import list_sum_tables
from qcapp.usecases import decide_batch
from qcapp.usecases.answer_summary import record_reply
from qcapp.usecases.decide_held import decide_held
from qcapp.usecases.issue_summary import issue_summary, preview_summary
from qcapp.usecases.load_batch import load_batch, read_batch
from qcapp.usecases.share_summary import share_summary
from qcapp.web.batches.overview import batch_page
from qcapp.web.deps import NowDep, SettingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.middleware.authorisation import AccountDep
from qcapp.web.reach import find_reach
from qcapp.web.rules import allow

router = APIRouter(prefix="/batches/{code}", include_in_schema=False)
SEED_BYTES = 8


class PlanForm(BaseModel):
    """An empty regime is the one the rules require, an empty seed is drawn here."""

    inspect: Annotated[str, StringConstraints(pattern="^(every|sample)$")]
    lot: Annotated[int, Field(ge=1, le=1_000_000)]
    level: str = "II"
    aql_major: str = "2.5"
    aql_minor: str = "4.0"
    regime: str = ""
    seed: Annotated[str, StringConstraints(max_length=60)] = ""
    may_reduce: bool = False
    is_restart: bool = False

    def request(self) -> PlanRequest:
        return PlanRequest(
            inspect=self.inspect,
            lot=self.lot,
            level=self.level,
            aql={"major": self.aql_major, "minor": self.aql_minor},
            regime=self.regime or None,
            seed=self.seed.strip() or secrets.token_hex(SEED_BYTES),
            may_reduce=self.may_reduce,
            is_restart=self.is_restart,
        )


class DecisionForm(BaseModel):
    final: str
    reason: Annotated[str, StringConstraints(max_length=1000)]


class HeldForm(BaseModel):
    """stoves: as HeldStove names them."""

    stoves: Annotated[list[Annotated[str, StringConstraints(max_length=300)]], Field()] = []
    kind: Annotated[str, StringConstraints(pattern="^(release|concession|rework|scrap|hold)$")]
    reason: Annotated[str, StringConstraints(max_length=2000)]


class IssueForm(BaseModel):
    """seen: the log number that the preview rested on."""

    seen: Annotated[int, Field(ge=0, lt=2**53)] | None = None


class ReplyForm(BaseModel):
    """answers: hash of what the buyer wrote."""

    answers: Annotated[str, StringConstraints(pattern="^[0-9a-f]{64}$")]
    note: Annotated[str, StringConstraints(min_length=1, max_length=2000, pattern=r"\S")]


class LinkForm(BaseModel):
    label: Annotated[str, StringConstraints(min_length=1, max_length=60, pattern=r"\S")]


def _back(code: str, place: str = "review") -> RedirectResponse:
    return RedirectResponse(f"/batches/{code}#{place}", status_code=303)


@router.post("/held", dependencies=[allow("decide_batches", "held_stoves_decided")])
def decide_stoves(
    request: Request,
    code: str,
    store: StoreDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[HeldForm, Form()],
) -> Response:
    decide_held(store, form.stoves, form.kind, form.reason, by=by, now=now)
    request.state.about = {"batch": code, "number": str(len(form.stoves))}
    return _back(code, "stoves")


@router.post("/plan", dependencies=[allow("decide_batches", "plan_agreed")])
def agree_plan(
    code: str, store: StoreDep, now: NowDep, by: AccountDep, form: Annotated[PlanForm, Form()]
) -> Response:
    decide_batch.agree_plan(store, code, form.request(), by=by, now=now)
    return _back(code)


@router.post("/decision", dependencies=[allow("decide_batches", "decision_overruled")])
def overrule(
    code: str, store: StoreDep, now: NowDep, by: AccountDep, form: Annotated[DecisionForm, Form()]
) -> Response:
    decide_batch.overrule(store, code, form.final, form.reason, by=by, now=now)
    return _back(code)


@router.get("/issue", dependencies=[allow("decide_batches")])
def preview(
    request: Request,
    code: str,
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    by: AccountDep,
) -> Response:
    """What the next summary would say, and what of the batch is still open."""
    found = preview_summary(store, settings, code, issued_by=by, now=now)
    return page(
        request,
        "batches/issue.html",
        title=phrase("Preview of summary %(number)s", number=found.document["number"]),
        batch=found.review.facts.batch,
        found=found,
        document=word_summary(found.document),
        sums=list_sum_tables(found.document["counts"]),
        shown_photos=found.photos,
        photo_address="/photos",
    )


@router.post("/summaries", dependencies=[allow("decide_batches", "summary_issued")])
def issue(
    code: str,
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[IssueForm, Form()],
) -> Response:
    batch = read_batch(store, code)
    issue_summary(store, settings, batch, issued_by=by, now=now, seen=form.seen)
    return _back(code, "buyer")


@router.post("/replies", dependencies=[allow("decide_batches", "buyer_answered")])
def reply(
    code: str, store: StoreDep, now: NowDep, by: AccountDep, form: Annotated[ReplyForm, Form()]
) -> Response:
    record_reply(store, code, answers=form.answers, note=form.note.strip(), by=by, now=now)
    return _back(code, "buyer")


@router.post("/links", dependencies=[allow("decide_batches", "link_given")])
def add_link(
    request: Request,
    code: str,
    *,
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[LinkForm, Form()],
) -> Response:
    token = share_summary(store, settings, code, label=form.label.strip(), by=by, now=now)
    path = f"s/{token}"
    reach = find_reach(request)
    fresh = {"address": reach.link(path), "path": path, "reach": reach}
    return batch_page(request, load_batch(store, code), fresh_link=fresh)


@router.post(
    "/links/{no}/revoke",
    dependencies=[allow("decide_batches", "link_revoked")],
)
def take_back_link(code: str, no: int, store: StoreDep, now: NowDep) -> Response:
    revoke_summary_link(store, batch=code, no=no, now=now)
    return _back(code)
