"""What the lead does about a batch: agree a plan, overrule, issue a summary, give and take back
links.
"""

import secrets
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field, StringConstraints

from qcapp.access.links import revoke_link
from qcapp.reports.plan import PlanRequest
from qcapp.usecases import decide_batch
from qcapp.usecases.issue_summary import issue_summary
from qcapp.usecases.load_batch import load_batch, read_batch
from qcapp.usecases.share_summary import share_summary
from qcapp.web.batches.overview import batch_page
from qcapp.web.deps import DrawingsDep, NowDep, SettingsDep, StoreDep
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


class LinkForm(BaseModel):
    label: Annotated[str, StringConstraints(min_length=1, max_length=60, pattern=r"\S")]


def _back(code: str) -> RedirectResponse:
    return RedirectResponse(f"/batches/{code}#review", status_code=303)


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


@router.post("/summaries", dependencies=[allow("decide_batches", "summary_issued")])
def issue(
    code: str, store: StoreDep, settings: SettingsDep, now: NowDep, by: AccountDep
) -> Response:
    issue_summary(store, settings, read_batch(store, code), issued_by=by, now=now)
    return _back(code)


@router.post("/links", dependencies=[allow("decide_batches", "link_given")])
def add_link(
    request: Request,
    code: str,
    *,
    store: StoreDep,
    settings: SettingsDep,
    drawings: DrawingsDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[LinkForm, Form()],
) -> Response:
    token = share_summary(store, settings, code, label=form.label.strip(), by=by, now=now)
    path = f"s/{token}"
    reach = find_reach(request)
    fresh = {"address": reach.link(path), "path": path, "reach": reach}
    return batch_page(request, load_batch(store, code), drawings, fresh_link=fresh)


@router.post(
    "/links/{no}/revoke",
    dependencies=[allow("decide_batches", "link_revoked")],
)
def take_back_link(code: str, no: int, store: StoreDep, now: NowDep) -> Response:
    revoke_link(store, batch=code, no=no, now=now)
    return _back(code)
