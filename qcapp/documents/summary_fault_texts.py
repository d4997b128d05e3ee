"""What the printed summary says around the faults and the measured values."""

from collections.abc import Mapping
from typing import Any

from qcapp.i18n.localized_text import Figure, join
from qcapp.i18n.phrase import Phrase, phrase, phrase_n
from qcapp.reports.summary_wording import SHOWN_CAUSES, count_other_faults


def list_fault_texts(summary: Mapping[str, Any]) -> dict[str, Any]:
    return {**_list_part_texts(summary), **_list_cause_texts(summary)}


def _list_part_texts(summary: Mapping[str, Any]) -> dict[str, Any]:
    failed = [
        join(" ", (part["title"], str(part["failed"])))
        for part in summary["parts"]
        if part["failed"]
    ]
    return {
        "where": phrase("Where the faults were"),
        "no_fault": phrase("No fault was found at the first inspection."),
        "part_columns": [
            phrase("Part"),
            phrase("Failed"),
            phrase("Crit."),
            phrase("Maj."),
            phrase("Min."),
        ],
        "drawing": phrase(
            "Drawing of the stove with the number of failed checks by part: %(parts)s",
            parts=join(", ", failed) or phrase("none"),
        ),
        "map_note": phrase(
            "Faults at the first inspection. On the drawing a part with faults is hatched and "
            "shows their number; a black label with cut corners means that at least one was "
            "critical."
        ),
        "by_part": phrase("Faults by part"),
        "all_parts": phrase("All parts"),
        "counted": phrase_n(
            "%(n)s fault on %(faulty)s faulty stoves: %(critical)s critical, %(major)s major, "
            "%(minor)s minor.",
            "%(n)s faults on %(faulty)s faulty stoves: %(critical)s critical, %(major)s major, "
            "%(minor)s minor.",
            summary["faults"]["total"],
            faulty=summary["counts"]["faulty"],
            **{key: summary["faults"][key] for key in ("critical", "major", "minor")},
        ),
    }


def _list_cause_texts(summary: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "causes": phrase("Most frequent faults"),
        "shown_causes": SHOWN_CAUSES,
        "other_faults": phrase("Other faults"),
        "other_count": count_other_faults(summary),
        "all_faults": phrase("All faults"),
        "cause_columns": [
            phrase("Fault"),
            phrase("Check"),
            phrase("Severity"),
            phrase("Failed"),
            phrase("Of"),
        ],
    }


def say_fault(fault: Mapping[str, Any]) -> Phrase:
    """One fault that a stove was released with: what, how much, at which check."""
    if fault["value"] is None:
        return phrase("%(fault)s (%(ask)s)", fault=fault["fault"], ask=fault["ask"])
    return phrase(
        "%(fault)s, %(value)s %(unit)s (%(ask)s)",
        fault=fault["fault"],
        value=Figure(fault["value"]),
        unit=fault["unit"],
        ask=fault["ask"],
    )


def list_measure_texts(summary: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "measured": phrase("Measured values against their limits"),
        "no_histogram": phrase("No histogram."),
        "measure_note": phrase(
            "Bars: number of readings from the left edge up to, but not including, the right "
            "edge. Pp and Ppk compare the spread of all readings with the limits (ISO 22514-2); "
            "in brackets: their 95 %% interval for more stoves made in the same way."
        ),
        "lower": phrase("lower"),
        "upper": phrase("upper"),
        "measures": [_describe_measure(measure) for measure in summary["measures"]],
    }


def _describe_measure(measure: Mapping[str, Any]) -> dict[str, Any]:
    bins = [
        phrase(
            "%(low)s to %(high)s: %(count)s",
            low=Figure(one["from"]),
            high=Figure(one["to"]),
            count=one["count"],
        )
        for one in measure["bins"]
    ]
    keys = ("smallest", "median", "largest", "lower", "nominal", "upper", "uncertainty")
    given = {key: Figure(measure[key]) if measure[key] else "–" for key in keys}
    return {
        "histogram": phrase(
            "Histogram of %(check)s: %(bins)s", check=measure["ask"], bins=join(", ", bins)
        ),
        "readings": phrase_n("%(n)s reading", "%(n)s readings", measure["n"]),
        "outside": phrase("%(outside)s outside the limits", outside=measure["outside"]),
        "lines": [
            phrase("smallest %(smallest)s, median %(median)s, largest %(largest)s", **given),
            phrase("lower %(lower)s, nominal %(nominal)s, upper %(upper)s", **given),
            phrase(
                "tool: ± %(uncertainty)s %(unit)s",
                uncertainty=given["uncertainty"],
                unit=measure["unit"],
            ),
            *_describe_by_photo(measure),
            *(
                _describe_index(name, measure[key])
                for name, key in (("Pp", "pp"), ("Ppk", "ppk"))
                if measure[key]
            ),
        ],
    }


def _describe_by_photo(measure: Mapping[str, Any]) -> list[Phrase]:
    """Summaries issued before it was told have no such key."""
    found = measure.get("by_photo")
    if not found:
        return []
    return [
        phrase(
            "by photo: %(n)s, each with its own: ± %(least)s to %(most)s %(unit)s",
            n=found["n"],
            least=Figure(found["least"]),
            most=Figure(found["most"]),
            unit=measure["unit"],
        )
    ]


def _describe_index(name: str, index: Mapping[str, str]) -> Phrase:
    return phrase(
        "%(index)s %(value)s (%(low)s to %(high)s)",
        index=name,
        **{key: Figure(index[key]) for key in ("value", "low", "high")},
    )
