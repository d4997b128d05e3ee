"""The last checks of a template or gauge as a plain run chart: master piece in the middle, its
tolerance as limits.
"""

from qcapp.i18n.localized_text import Day, Figure
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.i18n.units import name_unit
from qcapp.inspection.gauges import Gauge, GaugeCheck
from qcapp.reports.control_row import ControlRow

NEWEST = 40


def build_gauge_chart(gauge: Gauge) -> ControlRow | None:
    """Of the newest 40 checks, as errors in the gauge's unit; None where there is none."""
    checks = gauge.checks[-NEWEST:]
    if not checks:
        return None
    return ControlRow(
        say_state(gauge),
        phrase("%(unit)s from the master piece", unit=name_unit(gauge.terms.unit)),
        tuple(phrase("%(day)s", day=Day(check.day.isoformat())) for check in checks),
        tuple(float(check.error) for check in checks),
        0.0,
        tuple(-float(check.terms.tolerance) for check in checks),
        tuple(float(check.terms.tolerance) for check in checks),
        {
            at: phrase("outside the tolerance")
            for at, check in enumerate(checks)
            if check.is_outside
        },
        point=phrase("one check"),
        centre_is=phrase("master piece"),
    )


def say_state(gauge: Gauge) -> Phrase:
    """The last check in a sentence."""
    last = gauge.last
    if last is None:
        return phrase("%(name)s: not checked yet", name=gauge.terms.name)
    words = {
        "name": gauge.terms.name,
        "error": say_error(last),
        "tolerance": Figure(str(gauge.terms.tolerance)),
        "unit": name_unit(gauge.terms.unit),
    }
    if last.is_outside:
        return phrase("%(name)s: outside its tolerance by the last check (%(error)s)", **words)
    return phrase("%(name)s: within its tolerance by the last check (%(error)s)", **words)


def say_error(check: GaugeCheck) -> Phrase:
    """+0.3 mm; the error of a check with its sign and unit."""
    sign = "+" if check.error > 0 else "−" if check.error < 0 else ""
    return phrase(
        "%(error)s %(unit)s",
        error=Figure(f"{sign}{abs(check.error)}"),
        unit=name_unit(check.terms.unit),
    )
