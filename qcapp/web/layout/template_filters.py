"""What templates call to speak: words, numbers, days, names, all in the language of the page.

Everything is looked up while a page is written, so one environment serves every language.
"""

from collections.abc import Mapping
from typing import Any

from jinja2 import Environment, pass_context, pass_eval_context
from jinja2.nodes import EvalContext
from jinja2.runtime import Context
from markupsafe import Markup

from qcapp.charts.frame import percent
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.localized_text import pick
from qcapp.i18n.messages import Message, MessageTable
from qcapp.i18n.phrase import Phrase, phrase, phrase_n
from qcapp.i18n.sizes import name_size
from qcapp.i18n.units import name_unit
from qcapp.inspection.articles import count_articles, count_faulty
from qcapp.inspection.loss import Loss, describe_loss
from qcapp.inspection.terms import ask_for_piece
from qcapp.reports import decision_reasons
from qcapp.stats.interval import Interval
from qcapp.sync import quarantine_reasons
from qcapp.web.layout.labels import name

STORED = MessageTable(quarantine_reasons.REASONS, decision_reasons.REASONS)


def install_filters(environment: Environment) -> None:
    """Lets templates say {% trans %}, _("...") and the filters below.

    A Phrase is translated wherever it is shown.
    """
    environment.policies["ext.i18n.trimmed"] = True
    environment.add_extension("jinja2.ext.i18n")
    # Of the extension; Jinja's types do not know it.
    environment.newstyle_gettext = True  # type: ignore[attr-defined]
    environment.globals.update(gettext=_gettext, _=_gettext, ngettext=_ngettext)
    environment.finalize = _finalize
    environment.filters.update(
        minute=as_minute,
        day=as_day,
        clock=as_clock,
        loss=as_loss,
        percent=as_percent,
        points=as_points,
        interval=as_interval,
        number=as_number,
        thousands=as_thousands,
        place=as_place,
        label=name,
        articles=count_articles,
        faulty=count_faulty,
        asked_piece=ask_for_piece,
        localized=as_localized,
        worded=as_worded,
        translated=as_translated,
        sentence=as_sentence,
        sized=as_size,
        unit=as_unit,
    )


@pass_eval_context
def _gettext(context: EvalContext, pattern: str, /, **given: Any) -> str:
    return _fill(context, get_active_locale().gettext(pattern), given)


@pass_eval_context
def _ngettext(context: EvalContext, one: str, many: str, n: int, /, **given: Any) -> str:
    return _fill(context, get_active_locale().ngettext(one, many, n), {"num": n, **given})


def _fill(context: EvalContext, pattern: str, given: Mapping[str, Any]) -> str:
    """The pattern is ours, tags and all; what is filled in is not, and is escaped."""
    locale = get_active_locale()
    filled = {key: locale.write(value) for key, value in given.items()}
    return (Markup(pattern) if context.autoescape else pattern) % filled  # noqa: S704


# With the context, so that nothing is said while a template is compiled.
@pass_context
def _finalize(_context: Context, value: Any) -> Any:
    return get_active_locale().translate(value) if isinstance(value, Phrase) else value


def as_size(size: str) -> str:
    """A size by its name in this language."""
    return as_translated(name_size(size))


def as_unit(unit: str) -> str:
    """A unit by its name in this language."""
    return as_translated(name_unit(unit))


def as_translated(words: str) -> str:
    """A phrase as text of this language, for what follows."""
    return get_active_locale().translate(words) if isinstance(words, Phrase) else words


def as_sentence(words: str) -> str:
    """Part of an error as a sentence by itself: “choose a YAML file” is “Choose a YAML file.”"""
    text = as_translated(words).strip()
    end = "" if text.endswith((".", "!", "?")) else "."
    return f"{text[:1].upper()}{text[1:]}{end}" if text else ""


def as_worded(message: Message) -> str:
    """A stored reason in this language: of a record that does not count, of a decision."""
    return as_translated(STORED.word(message))


def as_localized(texts: Mapping[str, str]) -> str:
    """Of a checklist's texts by language the one of this page, else the English."""
    return pick(texts, get_active_locale().language)


def as_percent(share: float | None) -> str:
    """0.1234 -> "12 %"; as in the charts; a dash where there is nothing to divide by."""
    return (
        "–"
        if share is None
        else get_active_locale().number_format.write_number(as_translated(percent(share)))
    )


def as_points(difference: float) -> str:
    """A difference of shares in stoves of a hundred, signed, with a real minus."""
    points = difference * 100
    text = f"{points:+.1f}" if abs(points) < 9.95 else f"{points:+.0f}"
    return "0" if float(text) == 0 else as_number(text)


def as_interval(interval: Interval) -> str:
    return as_translated(
        phrase("%(low)s to %(high)s", low=as_percent(interval.low), high=as_percent(interval.high))
    )


def as_number(value: float | str, pattern: str | None = None) -> str:
    """12.5 -> "12,5" in French.

    pattern: how many places, as "%.2f"; text is a number as English writes it.
    """
    return get_active_locale().number_format.write_number(
        pattern % value if pattern else str(value)
    )


def as_thousands(count: int) -> str:
    """1000000 -> "1,000,000"; always grouped."""
    return get_active_locale().number_format.write_count(count, fewest_grouped=4)


def as_place(n: int) -> str:
    """Which of a row: 21 -> "21st". Other languages translate the pattern, most to "%(n)s."."""
    last = 0 if 10 < n % 100 < 14 else n % 10
    if last == 1:
        return as_translated(phrase("%(n)sst", n=n))
    if last == 2:
        return as_translated(phrase("%(n)snd", n=n))
    return as_translated(phrase("%(n)srd", n=n) if last == 3 else phrase("%(n)sth", n=n))


def as_minute(moment: str) -> str:
    """2026-11-25T10:27:28.217Z -> 2026-11-25 10:27 UTC"""
    return f"{as_day(moment)} {moment[11:16]} UTC"


def as_day(moment: str) -> str:
    """2026-11-25T10:27:28.217Z -> 2026-11-25, or 25/11/2026 where people write it so."""
    return get_active_locale().number_format.write_day(moment)


def as_loss(loss: Loss) -> str:
    return as_translated(describe_loss(loss))


def as_clock(offset_ms: int | None) -> str:
    """How far a phone's clock is from the server's, in the largest unit that says it."""
    if offset_ms is None:
        return as_translated(phrase("not known"))
    minutes = abs(offset_ms) / 60_000
    if minutes < 2:
        return as_translated(phrase("on time"))
    is_fast = offset_ms > 0
    if minutes >= 2880:
        days = round(minutes / 1440)
        return as_translated(
            phrase_n("%(n)s day fast", "%(n)s days fast", days)
            if is_fast
            else phrase_n("%(n)s day slow", "%(n)s days slow", days)
        )
    if minutes >= 120:
        hours = round(minutes / 60)
        return as_translated(
            phrase_n("%(n)s hour fast", "%(n)s hours fast", hours)
            if is_fast
            else phrase_n("%(n)s hour slow", "%(n)s hours slow", hours)
        )
    whole = round(minutes)
    return as_translated(
        phrase_n("%(n)s minute fast", "%(n)s minutes fast", whole)
        if is_fast
        else phrase_n("%(n)s minute slow", "%(n)s minutes slow", whole)
    )
