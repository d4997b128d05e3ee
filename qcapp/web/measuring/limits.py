"""The yard lead's pages about limits: does the making fit them, how often a verdict is wrong."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from qcapp.charts.control import draw_control
from qcapp.charts.frame import Chart
from qcapp.charts.probability import draw_probability
from qcapp.checklist.history import CheckRef
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.localized_text import join, text_of
from qcapp.i18n.phrase import phrase
from qcapp.i18n.sizes import name_size
from qcapp.i18n.units import name_unit
from qcapp.reports.limits import NOT_NORMAL_P, LimitRow
from qcapp.reports.photo_figures import FIGURES
from qcapp.reports.variance_division import share_of_measuring
from qcapp.reports.verdict_risk import Range
from qcapp.usecases.load_limits import load_limit, load_limits
from qcapp.usecases.load_photo_figures import load_photo_figures
from qcapp.web.deps import SettingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)


@router.get("/yard/limits", dependencies=[allow("measure")])
def show_limits(request: Request, store: StoreDep, settings: SettingsDep) -> Response:
    measuring, rows = load_limits(store, settings)
    return page(
        request,
        "measuring/limits.html",
        title=phrase("Limits and measuring"),
        measuring=measuring,
        rows=rows,
        photos=load_photo_figures(store),
        photo_names=FIGURES,
        address=address_of,
        in_thousand=in_thousand,
    )


@router.get("/yard/limits/{checklist}/{check}/{size}", dependencies=[allow("measure")])
def show_check(
    request: Request,
    check: Annotated[CheckRef, Depends(CheckRef)],
    size: str,
    store: StoreDep,
    settings: SettingsDep,
    judged_by: str = "",
) -> Response:
    """judged_by: which limits, where a revision moved them; else those in force."""
    found = load_limit(store, settings, check, size, judged_by)
    row, capability = found.row, found.row.capability
    studied = found.studied
    share = share_of_measuring(studied[1], capability) if studied and capability else None
    return page(
        request,
        "measuring/limits_check.html",
        title=join(", ", (text_of(row.check.ask), name_size(size))),
        row=row,
        measuring=found.measuring,
        others=found.others,
        address=address_of,
        studied=studied,
        share=share,
        chart=_draw(row),
        order_chart=row.order_chart
        and draw_control(row.order_chart, name="order", locale=get_active_locale()),
        in_thousand=in_thousand,
        not_normal_p=NOT_NORMAL_P,
    )


def address_of(row: LimitRow) -> str:
    """Bare for the limits in force."""
    judged_by = "" if row.criteria.is_current else f"?judged_by={row.criteria.key}"
    return f"/yard/limits/{row.criteria.checklist}/{row.check.id}/{row.size}{judged_by}"


def _draw(row: LimitRow) -> Chart | None:
    """None where there is no figure to draw."""
    check, capability = row.check, row.capability
    limits = check.limits_for(row.size)
    if limits is None or capability is None:
        return None
    return draw_probability(
        row.readings,
        mean=capability.mean,
        sd=capability.s,
        limits=[limit for limit in (limits.lower, limits.upper) if limit is not None],
        unit=name_unit(check.unit),
        title=_say_if_normal(row),
        name="probability",
        locale=get_active_locale(),
    )


def _say_if_normal(row: LimitRow) -> str:
    n, ask = len(row.readings), text_of(row.check.ask)
    if row.is_normal:
        return phrase("%(ask)s: nothing shows that %(n)s readings are not normal", ask=ask, n=n)
    return phrase("%(ask)s: %(n)s readings do not look normal", ask=ask, n=n)


def in_thousand(share: Range) -> str:
    """ "about 8 (5 to 14)", of 1,000 stoves; "fewer than 1" where it rounds to none."""
    ends = [round(1000 * end) for end in (share.value, share.low, share.high)]
    if ends[2] == 0:
        return phrase("fewer than 1")
    first = phrase("about %(n)s", n=ends[0]) if ends[0] else phrase("fewer than 1")
    return phrase("%(first)s (%(low)s to %(high)s)", first=first, low=ends[1], high=ends[2])
