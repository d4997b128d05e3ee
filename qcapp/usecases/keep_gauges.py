"""The register of templates and gauges: enter or change one, take one out, void a wrong check."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from qcapp.checklist.frozen_model import Text
from qcapp.checklist.history import ChecklistHistory, list_works
from qcapp.checklist.items import Step
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.gauges import (
    FIRST_DAYS,
    LONGER_PERCENT,
    MAX_DAYS,
    MIN_DAYS,
    SHORTER_PERCENT,
    WITHIN_PERCENT,
    Gauge,
)
from qcapp.inspection.number import parse_number
from qcapp.reports.row_groups import Template
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.queries.gauge_queries import list_gauges
from qcapp.store.registry import people
from qcapp.store.registry.checklists import load_history
from qcapp.sync.server_events import record_server_event
from qcapp.usecases.form import TypedForm
from qcapp.usecases.load_measuring import read_templates

STEP, TOOL = "step:", "tool:"


class GaugeForm(TypedForm):
    """use: "step:ID" or "tool:ID"; template: id of the record that says who shares it."""

    kind: str = "template"
    name: str = ""
    use: str = ""
    template: str = ""
    piece: str = ""
    value: str = ""
    tolerance: str = ""
    unit: str = "mm"
    interval_days: str = str(FIRST_DAYS)
    within_percent: str = str(WITHIN_PERCENT)
    longer_percent: str = str(LONGER_PERCENT)
    shorter_percent: str = str(SHORTER_PERCENT)
    min_days: str = str(MIN_DAYS)
    max_days: str = str(MAX_DAYS)


# Of the whole numbers in it: the least and the most that can be meant.
BOUNDS = {
    "interval_days": (1, 3650),
    "within_percent": (1, 100),
    "longer_percent": (100, 400),
    "shorter_percent": (1, 100),
    "min_days": (1, 3650),
    "max_days": (1, 3650),
}


@dataclass(frozen=True)
class GaugeView:
    """works: steps by id; tools: titles by id, of the checklists in use."""

    gauges: Sequence[Gauge]
    works: Mapping[str, Sequence[Step]]
    tools: Mapping[str, Text]
    templates: Mapping[str, Template]
    people: Mapping[str, str]

    def find(self, gauge_id: str) -> Gauge:
        """Raises NotFound."""
        found = next((one for one in self.gauges if one.id == gauge_id), None)
        if found is None:
            raise NotFound(
                phrase("there is no such template or gauge"),
                gauge_id,
                phrase("see the register of templates and gauges"),
            )
        return found

    def list_of(self, step: str, artisans: Collection[str]) -> list[Gauge]:
        """Those with which these artisans do a piece of work: of a template that one of them
        uses, or of whoever does it.
        """
        return [
            one
            for one in self.gauges
            if one.terms.step == step and self._is_used_by(one.terms.template, artisans)
        ]

    def list_of_template(self, template: str) -> list[Gauge]:
        return [one for one in self.gauges if one.terms.template == template]

    def _is_used_by(self, template: str | None, artisans: Collection[str]) -> bool:
        shared = self.templates.get(template or "")
        return shared is None or bool(shared.artisans & set(artisans))

    def list_due(self, today: date) -> list[Gauge]:
        return [one for one in self.gauges if one.is_due(today)]


def load_gauges(store: Store) -> GaugeView:
    with store.reading() as connection:
        history = load_history(connection)
        return GaugeView(
            gauges=list_gauges(connection),
            works=list_works(history.current.values()),
            tools=_list_tools(history),
            templates={
                one.id: one for one in read_templates(log.list_by_kind(connection, "template"))
            },
            people={one["code"]: one["name"] for one in people.list_people(connection)},
        )


def _list_tools(history: ChecklistHistory) -> dict[str, Text]:
    return {tool.id: tool.title for one in history.current.values() for tool in one.tools}


def fill_form(gauge: Gauge) -> GaugeForm:
    """A form that changes a gauge, with what is known of it; it starts with the interval in use."""
    terms = gauge.terms
    use = f"{STEP}{terms.step}" if terms.step else f"{TOOL}{terms.tool}"
    same = ("kind", "name", "piece", "unit")
    numbers = ("value", "tolerance", *BOUNDS)
    return GaugeForm(
        use=use,
        template=terms.template or "",
        **{name: getattr(terms, name) for name in same},
        **(
            {name: str(getattr(terms, name)) for name in numbers}
            | {"interval_days": str(gauge.interval_days)}
        ),
    )


def note_gauge(
    store: Store, form: GaugeForm, *, gauge: str | None, by: str, now: datetime
) -> str | None:
    """Id of the record; None where the form is refused. gauge: id of the one that is changed.

    Raises NotFound where there is no such gauge.
    """
    view = load_gauges(store)
    if gauge is not None:
        view.find(gauge)
    _refuse_words(form, view)
    value, tolerance = _read_amounts(form)
    days = {name: _read_whole(form, name) for name in BOUNDS}
    if not form.wrong and not days["min_days"] <= days["interval_days"] <= days["max_days"]:
        form.refuse("interval_days", phrase("the interval lies outside the shortest and longest"))
    if form.wrong:
        return None
    kind, _, target = form.use.partition(":")
    body = {
        **({"gauge": gauge} if gauge else {}),
        "kind": form.kind,
        "name": form.name,
        kind: target,
        **({"template": form.template} if form.template else {}),
        "piece": form.piece,
        "value": value,
        "tolerance": tolerance,
        "unit": form.unit,
        **days,
    }
    return record_server_event(store, kind="gauge", recorder=by, body=body, now=now)


def _refuse_words(form: GaugeForm, view: GaugeView) -> None:
    for name, longest in (("name", 60), ("piece", 60), ("unit", 12)):
        if not 0 < len(form.get(name)) <= longest:
            form.refuse(name, phrase("write at most %(n)s characters here", n=longest))
    uses = [f"{STEP}{one}" for one in view.works] + [f"{TOOL}{one}" for one in view.tools]
    if form.use not in uses or form.kind not in ("template", "gauge"):
        form.refuse("use", phrase("choose what it is used for from the list"))
    named = view.templates.get(form.template)
    if form.template and (named is None or form.use != f"{STEP}{named.step}"):
        form.refuse("use", phrase("the template named under Drift is for another step"))


def _read_amounts(form: GaugeForm) -> tuple[str | None, str | None]:
    """Value and tolerance as decimal text."""
    value, tolerance = parse_number(form.value), parse_number(form.tolerance)
    if value is None or Decimal(value) == 0:
        form.refuse("value", phrase("write the value as a number above nought, such as 100.0"))
    if tolerance is None or Decimal(tolerance) == 0:
        form.refuse("tolerance", phrase("write the tolerance as a number above nought"))
    elif value is not None and Decimal(tolerance) >= Decimal(value):
        form.refuse("tolerance", phrase("the tolerance must be smaller than the value"))
    return value, tolerance


def _read_whole(form: GaugeForm, name: str) -> int:
    low, high = BOUNDS[name]
    text = form.get(name)
    number = int(text) if text.isascii() and text.isdigit() and len(text) < 6 else -1
    if not low <= number <= high:
        form.refuse(name, phrase("write a whole number, %(low)s to %(high)s", low=low, high=high))
    return number


def withdraw_gauge(store: Store, gauge_id: str, *, by: str, now: datetime) -> None:
    """Takes it out of the register; its checks stay in the records. Raises NotFound."""
    gauge = load_gauges(store).find(gauge_id)
    body = {"withdraws": gauge.id}
    record_server_event(store, kind="gauge", recorder=by, body=body, now=now)


def void_check(store: Store, gauge_id: str, check_id: str, *, by: str, now: datetime) -> None:
    """Raises NotFound."""
    gauge = load_gauges(store).find(gauge_id)
    if check_id not in {check.id for check in gauge.checks}:
        raise NotFound(
            phrase("there is no such check"), check_id, phrase("reload the page of the gauge")
        )
    body = {"withdraws": check_id}
    record_server_event(store, kind="gauge", recorder=by, body=body, now=now)
