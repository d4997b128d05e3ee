"""The yard lead's pages about limits: does the making fit them, how often a verdict is wrong."""

from fastapi import APIRouter, Request

from qcapp.charts.probability import draw_probability
from qcapp.errors import NotFound
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.localized_text import join, text_of
from qcapp.i18n.phrase import phrase
from qcapp.i18n.sizes import name_size
from qcapp.reports.limits import NOT_NORMAL_P, LimitRow, Range, build_limit_rows, share_of_measuring
from qcapp.usecases.load_measuring import Measuring, load_measuring
from qcapp.web.deps import SettingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.measuring.studies import find_studied, load_context
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)


def _load(store, settings) -> tuple[Measuring, list[LimitRow]]:
    measuring = load_measuring(store, settings)
    return measuring, build_limit_rows(
        measuring.observations, measuring.checks, measuring.templates, min_count=measuring.min_count
    )


@router.get("/yard/limits", dependencies=[allow("measure")])
def show_limits(request: Request, store: StoreDep, settings: SettingsDep):
    measuring, rows = _load(store, settings)
    return page(
        request,
        "measuring/limits.html",
        title=phrase("Limits and measuring"),
        measuring=measuring,
        rows=rows,
        in_thousand=in_thousand,
    )


@router.get("/yard/limits/{check}/{size}", dependencies=[allow("measure")])
def show_check(request: Request, check: str, size: str, store: StoreDep, settings: SettingsDep):
    measuring, rows = _load(store, settings)
    row = next((row for row in rows if (row.check.id, row.size) == (check, size)), None)
    if row is None:
        raise NotFound(
            phrase("no reading of this check and size"),
            f"{check} {size}",
            phrase("see the list under limits and measuring"),
        )
    studied = find_studied(load_context(store), check, size)
    return page(
        request,
        "measuring/limits_check.html",
        title=join(", ", (text_of(row.check.ask), name_size(size))),
        row=row,
        measuring=measuring,
        studied=studied,
        share=share_of_measuring(studied[1], row.capability)
        if studied and row.capability
        else None,
        chart=_draw(row) if row.capability else None,
        in_thousand=in_thousand,
        not_normal_p=NOT_NORMAL_P,
    )


def _draw(row: LimitRow):
    limits = row.check.limits_for(row.size)
    return draw_probability(
        row.readings,
        mean=row.capability.mean,
        sd=row.capability.s,
        limits=[limit for limit in (limits.lower, limits.upper) if limit is not None],
        unit=row.check.unit,
        title=phrase("%(ask)s: readings against a normal spread", ask=text_of(row.check.ask)),
        name="probability",
        locale=get_active_locale(),
    )


def in_thousand(share: Range) -> str:
    """ "about 8 (5 to 14)", of 1,000 stoves; "fewer than 1" where it rounds to none."""
    ends = [round(1000 * end) for end in (share.value, share.low, share.high)]
    if ends[2] == 0:
        return phrase("fewer than 1")
    first = phrase("about %(n)s", n=ends[0]) if ends[0] else phrase("fewer than 1")
    return phrase("%(first)s (%(low)s to %(high)s)", first=first, low=ends[1], high=ends[2])
