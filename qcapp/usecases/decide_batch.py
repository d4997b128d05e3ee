"""What the lead decides about a batch: agree a plan, overrule the decision."""

from datetime import datetime

from qcapp.reports.decision import build_overruling
from qcapp.reports.plan import PlanRequest, build_plan_body, follow_series
from qcapp.store.engine import Store
from qcapp.store.queries import summaries
from qcapp.store.registry.batches import get_batch
from qcapp.sync.server_events import append_server_event
from qcapp.usecases.issue_summary import load_batch_review


def agree_plan(store: Store, code: str, request: PlanRequest, *, by: str, now: datetime) -> None:
    """Raises NotFound, BadInput."""
    with store.writing() as connection:
        facts = load_batch_review(connection, get_batch(connection, code)).facts
        decided = summaries.list_decided(connection, facts.design)
        before = [row for row in decided if row.batch != code]
        body = build_plan_body(request, facts, follow_series(before))
        append_server_event(connection, kind="plan", recorder=by, body=body, now=now, batch=code)


def overrule(store: Store, code: str, final: str, reason: str, *, by: str, now: datetime) -> None:
    """Raises NotFound, BadInput."""
    with store.writing() as connection:
        review = load_batch_review(connection, get_batch(connection, code))
        body = build_overruling(review.facts, review.decision, final, reason)
        append_server_event(
            connection, kind="decision", recorder=by, body=body, now=now, batch=code
        )
