"""What faults cost the yard: take in its own figures, put the reckoning together."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from qcapp.checklist.history import ChecklistHistory, StepRef
from qcapp.checklist.items import Step
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.filters import Filters
from qcapp.inspection.number import parse_number
from qcapp.reports.costs import CostReport, FaultCost, build_cost_report
from qcapp.store import log
from qcapp.store.engine import Connection, Store
from qcapp.store.queries import trainer_queries
from qcapp.store.registry.batches import Batch, list_current_batches
from qcapp.store.registry.checklists import load_history
from qcapp.sync.server_events import record_server_event
from qcapp.usecases.form import TypedForm

AMOUNTS = ("minutes", "material", "pay")
MAX_CURRENCY = 12


class CostForm(TypedForm):
    minutes: str = ""
    material: str = ""
    pay: str = ""
    currency: str = ""


@dataclass(frozen=True)
class CostView:
    """batch: whose faults are counted; without one those since a day (ISO, None: all)."""

    report: CostReport
    history: ChecklistHistory
    batch: str | None
    since: str | None
    batches: list[Batch]


def load_costs(store: Store, batch: str | None = None) -> CostView:
    """Of one batch, else of the newest half year."""
    with store.reading() as connection:
        since = None if batch else trainer_queries.find_first_day(connection)
        filters = Filters(since=since, batch=batch)
        history = load_history(connection)
        counts = trainer_queries.count_step_faults(connection, filters)
        report = build_cost_report(counts, _list_costs(connection), history.steps)
        return CostView(report, history, batch, since, list_current_batches(connection))


def _list_costs(connection: Connection) -> dict[StepRef, FaultCost]:
    found = {}
    for event in log.list_by_kind(connection, "fault_cost"):
        body = event["body"]
        minutes, material, pay = (
            None if body[name] is None else Decimal(body[name]) for name in AMOUNTS
        )
        cost = FaultCost(minutes, material, pay, body["currency"])
        found[StepRef(body["checklist"], body["step"])] = cost
    return found


def find_step(store: Store, ref: StepRef) -> Step:
    """Raises NotFound."""
    with store.reading() as connection:
        known = load_history(connection).steps.get(ref)
    if known is None:
        raise NotFound(
            phrase("there is no such step"), " ".join(ref), phrase("choose one from the list")
        )
    return known


def propose_cost(store: Store, ref: StepRef) -> CostForm:
    """What the form holds at first: what was entered before, else the checklist's minutes and the
    currency used last.
    """
    known = find_step(store, ref)
    with store.reading() as connection:
        costs = _list_costs(connection)
    cost = costs.get(ref)
    if cost is None:
        currency = next(reversed(costs.values())).currency if costs else ""
        return CostForm(minutes=str(known.rework_minutes or ""), currency=currency)
    amounts = {name: getattr(cost, name) for name in AMOUNTS}
    shown = {name: "" if value is None else str(value) for name, value in amounts.items()}
    return CostForm(**shown, currency=cost.currency)


def enter_cost(store: Store, ref: StepRef, form: CostForm, *, by: str, now: datetime) -> None:
    """Raises NotFound; refuses what is no number. An empty field says that it is not known."""
    find_step(store, ref)
    body: dict[str, str | None] = {"checklist": ref.checklist, "step": ref.step}
    for name in AMOUNTS:
        body[name] = parse_number(form.get(name)) if form.get(name) else None
        if form.get(name) and body[name] is None:
            form.refuse(name, phrase("write a number such as 12.50, or leave it empty"))
    body["currency"] = form.currency
    if not 0 < len(form.currency) <= MAX_CURRENCY:
        form.refuse("currency", phrase("write the currency, at most 12 characters"))
    if not form.wrong:
        record_server_event(store, kind="fault_cost", recorder=by, body=body, now=now)
