"""Sentences of the trainer's and the yard lead's reports, as they are made,
said in French and Portuguese.
"""

import pytest

from qcapp.charts.control import draw_control
from qcapp.checklist.history import StepRef
from qcapp.errors import BadInput
from qcapp.i18n.catalogue import load_locale
from qcapp.inspection.observations import StepInspection
from qcapp.inspection.report_counts import StepTally
from qcapp.reports.apprentice import build_artisan_report
from qcapp.reports.pass_charts import list_pass_charts
from qcapp.reports.pass_drift import judge_passes
from qcapp.reports.passes import build_passes
from qcapp.reports.plan import PlanRequest, choose_regime
from qcapp.reports.reading_charts import RULES, count_rules, list_reading_charts
from qcapp.reports.reading_drift import judge_series
from qcapp.reports.studies import build_study_report
from qcapp.stats.switching import SamplingRegime
from tests.reports import test_drift, test_lessons, test_limits, test_studies, test_teach

FRENCH, PORTUGUESE = load_locale("fr"), load_locale("pt")


def check_said(made: str, english: str, french: str, portuguese: str) -> None:
    assert (made, FRENCH.translate(made), PORTUGUESE.translate(made)) == (
        english,
        french,
        portuguese,
    )


def test_drift_says_which_way_and_its_charts_say_what_stands_out():
    values = [100, 101, 99, 100, 101, 100, 99, 100] * 3 + [103] * 20
    row = judge_series(
        test_drift.series_of([test_drift.look(n, value) for n, value in enumerate(values)])["A01"],
        run=1000,
        min_count=20,
    )
    check_said(row.signal.direction, "larger", "plus grand", "maior")
    single, ranges, _ewma, sums = list_reading_charts(row)
    assert ranges.title.startswith("Moving range: from one reading to the next")
    said = FRENCH.translate(ranges.title)
    assert said.startswith("Étendue mobile\u00a0: d’une mesure à la suivante")
    assert (
        single.flags[32].startswith("rule 1")
        and FRENCH.translate(single.flags[32]).startswith("règle 1")
        and sums.unit == "sd"
    )
    chart = draw_control(single, name="c", locale=FRENCH)
    assert (
        chart.title.startswith("Mesures individuelles")
        and "début ici" in chart.svg
        and "règle 1" in chart.rows[32][3]
        and "01/09/2026" in chart.rows[0][0]
    )
    assert not {FRENCH.translate(rule.words) for rule in count_rules(row)} & set(RULES.values())


def test_faults_that_rise_and_rates_by_batch_are_said():
    failed = [n % 20 == 0 for n in range(40)] + [n % 2 == 0 for n in range(40)]
    looks = [test_drift.look(n, None, failed=bad) for n, bad in enumerate(failed)]
    row = judge_passes(
        build_passes(looks, test_drift.HISTORY, (), (), {})[0], run=1000, min_count=20
    )
    check_said(row.signal.direction, "more faults", "plus de défauts", "mais defeitos")
    rates, *_laney, points = list_pass_charts(row)
    check_said(rates.labels[0], "B0: 1 of 10", "B0\u00a0: 1 sur 10", "B0: 1 de 10")
    check_said(points.unit, "sum of points", "somme des points", "soma dos pontos")


def test_limits_say_why_there_is_no_figure():
    (few,) = test_limits.rows_of([100, 101, 99])
    check_said(
        few.why_not,
        "3 readings are too few; 20 are needed",
        "3 mesures sont trop peu\u00a0; il en faut 20",
        "3 leituras são poucas; são precisas 20",
    )
    (equal,) = test_limits.rows_of([100] * 30)
    check_said(
        equal.why_not,
        "all readings are equal",
        "toutes les mesures sont égales",
        "todas as leituras são iguais",
    )
    (bare,) = test_limits.rows_of(
        test_limits.normal(), checklist=test_limits.with_check(uncertainty=0)
    )
    assert (
        FRENCH.translate(bare.why_no_risk).startswith("l’incertitude de l’outil n’est pas donnée")
        and PORTUGUESE.translate(bare.why_no_risk) != bare.why_no_risk
    )


def test_lessons_and_what_to_teach_are_said():
    (row,) = test_lessons.build(
        [test_lessons.LESSON], [test_lessons.inspection(n, "2026-11-20") for n in range(30)]
    )
    check_said(row.verdict, "no stove before", "aucun foyer avant", "nenhum fogão antes")
    (taught,) = test_teach.build(test_teach.make_step("cut", (60, 120), (12, 240)))
    check_said(taught.strength, "very strong", "très fort", "muito forte")
    (few,) = test_teach.build(test_teach.make_step("cut", (1, 18), (1, 60)))
    check_said(few.strength, "too few", "trop peu", "muito poucos")


def test_an_artisans_curve_says_why_there_is_none_and_steps_are_named_by_the_checklist():
    cut = StepRef(test_drift.CHECKLIST.id, test_drift.STEP)
    steps = dict(test_drift.HISTORY.steps)
    step = steps[cut]
    steps[cut] = step.model_copy(update={"title": {**step.title, "fr": "Découper l’ouverture"}})
    inspections = [StepInspection(f"finished/S{n}", cut, n, False, None) for n in range(3)]
    tallies = [StepTally(cut, "A01", "B1", "2026-11-20", 3, 0, made_before=0)]
    (found,) = build_artisan_report(
        "A01", inspections, tallies, [], steps, {}, people={}, rule=test_teach.RULE
    ).steps
    check_said(
        found.why,
        "3 inspected are too few for a curve; 20 are needed",
        "3 contrôles sont trop peu pour une courbe\u00a0; il en faut 20",
        "3 inspeções são poucas para uma curva; são precisas 20",
    )
    assert (
        found.title == step.title["en"]
        and FRENCH.translate(found.title) == "Découper l’ouverture"
        and PORTUGUESE.translate(found.title) == step.title["en"]
    )


def test_advice_of_a_study_is_said_with_who_wavers():
    rows, _ = test_studies.report(
        edge=lambda n, w, r: test_studies.mark(n % 3 == 0 if w < 2 else (n * 7 + r * 5) % 3 == 0)
    )
    for row in rows.values():
        for sentence in row.advice:
            assert (
                FRENCH.translate(sentence) != sentence
                and PORTUGUESE.translate(sentence) != sentence
            )
    wavers = next(
        sentence for sentence in rows[test_studies.EDGE].advice if sentence.startswith("I03")
    )
    assert FRENCH.translate(wavers).startswith("I03\u00a0: le même foyer") and PORTUGUESE.translate(
        wavers
    ).startswith("I03: o mesmo fogão")


def test_why_a_study_shows_nothing_is_said_too():
    found = build_study_report(
        test_studies.plan(), [], test_studies.CHECKLIST, test_studies.CONTEXT
    )
    check_said(
        found.checks[0].why_no_verdicts,
        "two inspectors are needed (inspector): let another one judge the same stoves",
        "il faut deux contrôleurs (inspector)\u00a0: laissez un autre juger les mêmes foyers",
        "são precisos dois inspetores (inspector): deixe outro julgar os mesmos fogões",
    )


def test_a_trouble_is_told_as_it_always_was():
    errors = (BadInput("a"), BadInput("a", "b"), BadInput("a", "b", "c"), BadInput("a", todo="c"))
    assert [str(error) for error in errors] == ["a", "a (b)", "a (b): c", "a: c"]
    with pytest.raises(BadInput) as caught:
        choose_regime(PlanRequest("sample", 90, regime="reduced"), SamplingRegime())
    assert (
        FRENCH.translate(caught.value.what)
        == "le contrôle réduit n’est pas ouvert à ce lot\u00a0; les règles demandent le contrôle"
        " normal"
    )
    assert PORTUGUESE.translate(caught.value.todo) == "tome a inspeção normal ou uma mais severa"
