"""What the lead does about a batch: agree a plan, overrule, issue a summary, give and take back links."""

import secrets
from typing import Annotated

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import RedirectResponse

from qcapp.access.links import make_link, revoke_link
from qcapp.errors import Clash
from qcapp.i18n.phrase import phrase
from qcapp.reports.decision import build_overruling
from qcapp.reports.plan import PlanRequest, build_plan_body, follow_series
from qcapp.store.queries import summaries
from qcapp.store.registry import batches
from qcapp.sync.server_events import append_server_event
from qcapp.usecases.issue_summary import issue_summary, load_batch_review
from qcapp.web.batches.pages import batch_page
from qcapp.web.deps import DrawingsDep, NowDep, SettingsDep, StoreDep
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import allow

router = APIRouter(prefix="/batches/{code}", include_in_schema=False)
SEED_BYTES = 8


def read_plan_form(
    inspect: Annotated[str, Form(pattern="^(every|sample)$")],
    lot: Annotated[int, Form(ge=1, le=1_000_000)],
    level: Annotated[str, Form()] = "II",
    aql_major: Annotated[str, Form()] = "2.5",
    aql_minor: Annotated[str, Form()] = "4.0",
    stage: Annotated[str, Form()] = "",
    seed: Annotated[str, Form(max_length=60)] = "",
    may_reduce: Annotated[bool, Form()] = False,
    is_restart: Annotated[bool, Form()] = False,
) -> PlanRequest:
    """An empty stage is the one the rules ask for, an empty seed is drawn here."""
    aql = {"major": aql_major, "minor": aql_minor}
    return PlanRequest(
        inspect,
        lot,
        level,
        aql,
        stage or None,
        seed.strip() or secrets.token_hex(SEED_BYTES),
        may_reduce,
        is_restart,
    )


def _back(code: str) -> RedirectResponse:
    return RedirectResponse(f"/batches/{code}#desk", status_code=303)


@router.post("/plan", dependencies=[allow("decide_batches", "plan_agreed")])
def agree_plan(
    code: str,
    store: StoreDep,
    now: NowDep,
    wish: Annotated[PlanRequest, Depends(read_plan_form)],
    caller: CallerDep,
):
    with store.writing() as connection:
        facts = load_batch_review(connection, batches.get_batch(connection, code)).facts
        before = [
            row for row in summaries.list_decided(connection, facts.design) if row.batch != code
        ]
        body = build_plan_body(wish, facts, follow_series(before))
        append_server_event(
            connection, kind="plan", recorder=caller.code, body=body, now=now, batch=code
        )
    return _back(code)


@router.post("/decision", dependencies=[allow("decide_batches", "decision_overruled")])
def overrule(
    code: str,
    store: StoreDep,
    now: NowDep,
    final: Annotated[str, Form()],
    reason: Annotated[str, Form(max_length=1000)],
    caller: CallerDep,
):
    with store.writing() as connection:
        desk = load_batch_review(connection, batches.get_batch(connection, code))
        body = build_overruling(desk.facts, desk.decision, final, reason)
        append_server_event(
            connection, kind="decision", recorder=caller.code, body=body, now=now, batch=code
        )
    return _back(code)


@router.post("/summaries", dependencies=[allow("decide_batches", "summary_issued")])
def issue(code: str, store: StoreDep, settings: SettingsDep, now: NowDep, caller: CallerDep):
    with store.reading() as connection:
        batch = batches.get_batch(connection, code)
    issue_summary(store, settings, batch, issued_by=caller.code, now=now)
    return _back(code)


@router.post("/links", dependencies=[allow("decide_batches", "link_given")])
def add_link(
    request: Request,
    code: str,
    store: StoreDep,
    settings: SettingsDep,
    drawings: DrawingsDep,
    now: NowDep,
    label: Annotated[str, Form(min_length=1, max_length=60, pattern=r"\S")],
    caller: CallerDep,
):
    with store.reading() as connection:
        batches.get_batch(connection, code)
        if not summaries.list_summaries(connection, code):
            raise Clash(
                phrase("no summary of this batch has been issued"),
                code,
                phrase("issue one first; the link shows it"),
            )
    token = make_link(
        store,
        batch=code,
        label=label.strip(),
        made_by=caller.code,
        days=settings.link_days,
        now=now,
    )
    return batch_page(request, code, store, drawings, fresh_link=f"{request.base_url}s/{token}")


@router.post("/links/{no}/revoke", dependencies=[allow("decide_batches", "link_revoked")])
def take_back_link(code: str, no: int, store: StoreDep, now: NowDep):
    revoke_link(store, batch=code, no=no, now=now)
    return _back(code)
