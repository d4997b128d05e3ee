"""What the printed summary says around its figures; what the template fills in is a slot."""

from collections.abc import Mapping, Sequence
from typing import Any

from qcapp.documents.paper_words import SLOTS
from qcapp.i18n.localized_text import Day, Figure, join
from qcapp.i18n.phrase import Phrase, phrase, phrase_n
from qcapp.i18n.sizes import name_size
from qcapp.inspection.terms import REGIMES
from qcapp.reports.earlier_wording import OUTGOING_CONDITION, word_earlier, word_outgoing
from qcapp.reports.summary_messages import DECISION, MESSAGES
from qcapp.reports.summary_wording import SHOWN_CAUSES, count_other_faults, say_intervals
from qcapp.reports.totals import MEANINGS, SumTable, list_sum_tables

DECISIONS = {
    "accept": phrase("Accept"),
    "reject": phrase("Reject"),
    "not_ready": phrase("Not ready"),
}
TRANSLATION_NOTE = phrase(
    "This is a translation for reading. The yard signed the file: its figures, the codes of its "
    "sentences, and texts as they were typed. Where this differs from the English wording of a "
    "code, the English counts."
)


def list_texts(summary: Mapping[str, Any]) -> dict[str, Any]:
    """By name, as the template asks for them."""
    shares = [describe_share(row) for row in summary["severities"]]
    return {
        **_list_head(summary),
        **_list_counts(summary),
        **_list_plan(summary["plan"], shares),
        **_list_faults(summary),
        **_list_measures(summary),
        **_list_rest(summary),
        **_list_check(),
    }


def _list_head(summary: Mapping[str, Any]) -> dict[str, Any]:
    batch, overruled = summary["batch"], summary["decision"]["overruled"]
    return {
        "name": phrase(
            "Batch %(batch)s, summary %(number)s",
            batch=batch["code"],
            number=str(summary["number"]),
        ),
        "keyword": phrase("batch summary"),
        "size": name_size(batch["size"]),
        "offer": phrase_n(
            "%(yard)s offers %(n)s stove%(title)s, size %(size)s%(attributes)s.",
            "%(yard)s offers %(n)s stoves%(title)s, size %(size)s%(attributes)s.",
            batch["offered"],
            **SLOTS,
        ),
        "batch_title": phrase(": %(title)s", **SLOTS),
        "yes": phrase("yes"),
        "no": phrase("no"),
        "opened": phrase("Opened %(day)s.", day=Day(batch["opened_on"]))
        if batch["opened_on"]
        else "",
        "closed": phrase("Closed %(moment)s.", moment=Day(batch["closed_at"]))
        if batch["closed_at"]
        else "",
        "issued": phrase(
            "Issued %(moment)s by %(by)s.", **{**SLOTS, "moment": Day(summary["issued_at"])}
        ),
        "decisions": DECISIONS,
        "sign": phrase(
            "Mark of the decision: %(decision)s", decision=DECISIONS[summary["decision"]["final"]]
        ),
        "overruled": phrase("Overruled:"),
        "overruling": overruled
        and phrase(
            "the agreed plan computes %(computed)s. Changed by %(by)s on %(moment)s: %(reason)s",
            **{
                **SLOTS,
                "computed": MESSAGES.word(DECISION[summary["decision"]["computed"]]()),
                "moment": Day(overruled["at"]),
            },
        ),
        "no_certificate": phrase("A quality pass is not a safety certificate."),
        "see_cautions": phrase("See the cautions at the end."),
        "translated": TRANSLATION_NOTE,
        "changes": summary["replaces"]
        and phrase(
            "What changed since summary %(number)s", number=str(summary["replaces"]["number"])
        ),
        "no_change": phrase("Nothing shown here has changed."),
        "change_columns": [phrase("What"), phrase("Before"), phrase("Now")],
        "replaces": phrase("It replaces the summary with the SHA-256 %(digest)s.", **SLOTS),
    }


def _list_counts(summary: Mapping[str, Any]) -> dict[str, Any]:
    promise, first, per_stove = summary["promise"], summary["first_pass"], summary["per_stove"]
    outgoing = word_outgoing(summary["plan"])
    return {
        "promise": phrase("How certain this is"),
        "promised": phrase(
            "Inspected %(inspected)s of %(lot)s, with a critical or major fault %(found)s; at most "
            "%(left)s such stoves among the others, at %(level)s confidence (exact, one-sided).",
            inspected=promise["inspected"],
            lot=promise["lot"],
            found=promise["found"],
            left=promise["left_at_most"],
            level=as_percent(promise["level"]),
        ),
        "outgoing": join(" ", [*outgoing, OUTGOING_CONDITION]) if outgoing else "",
        "earlier": join(" ", word_earlier(summary)),
        "stoves": phrase("Stoves"),
        "sums": [_describe_sum(one) for one in list_sum_tables(summary["counts"])],
        "meanings": MEANINGS,
        "first_pass": phrase(
            "Good at the first inspection: %(good)s of %(of)s fully inspected",
            good=first["good"],
            of=first["of"],
        ),
        "per_stove": ""
        if per_stove["value"] is None
        else phrase(
            "Faults per stove: %(value)s (%(low)s to %(high)s), %(faults)s on %(of)s fully "
            "inspected.",
            faults=per_stove["faults"],
            of=per_stove["of"],
            **{key: Figure(per_stove[key]) for key in ("value", "low", "high")},
        ),
        "first_share": describe_share(first),
        "in_brackets": say_intervals(summary),
    }


def _describe_sum(table: SumTable) -> dict[str, Any]:
    return {
        "columns": [table.title, phrase("Stoves")],
        "rows": [[word, str(count)] for word, count in table.parts],
        "whole": [table.whole, str(table.count)],
    }


def as_percent(share: str) -> Phrase:
    """Decimal text of a share, such as 0.0312: 3.12 %, with no nought at its end."""
    whole = f"{float(share) * 100:.6f}".rstrip("0").rstrip(".")
    return phrase("%(figure)s %%", figure=Figure(whole.replace("-", "−")))


def describe_share(row: Mapping[str, Any]) -> Phrase:
    if row["rate"] is None:
        return phrase("not looked for")
    return phrase(
        "%(rate)s (%(low)s to %(high)s)",
        **{key: as_percent(row[key]) for key in ("rate", "low", "high")},
    )


def _list_plan(plan: Mapping[str, Any], shares: Sequence[Phrase]) -> dict[str, Any]:
    agreed = phrase("Agreed: every stove of %(lot)s is inspected.", lot=plan["lot"])
    if plan["inspect"] == "sample":
        agreed = phrase("Agreed: a sample of the %(lot)s stoves is inspected.", lot=plan["lot"])
    more = []
    if plan["level"]:
        regime = REGIMES[plan["regime"]]
        more = [
            phrase(
                "Level %(level)s, %(regime)s inspection, code letter %(letter)s.",
                level=plan["level"],
                regime=regime,
                letter=plan["letter"],
            )
        ]
    when = {**SLOTS, "moment": Day(plan["agreed_at"] or "")}
    signed = (
        phrase("Agreed %(moment)s by %(by)s.", **when)
        if plan["agreed_by"]
        else phrase("Agreed %(moment)s.", **when)
    )
    return {
        "agreed": join(" ", [agreed, *more]),
        "agreed_at": signed if plan["agreed_at"] else "",
        "against": phrase("Faults against what was agreed"),
        "sample_columns": [
            phrase("Severity"),
            phrase("Inspected"),
            phrase("Failed"),
            phrase("Rate"),
            phrase("Allowed"),
            phrase("Met"),
        ],
        "every_columns": [
            phrase("Severity"),
            phrase("Inspected"),
            phrase("Failed"),
            phrase("Rate"),
            phrase("Still open"),
        ],
        "shares": shares,
        "none": phrase("none"),
        "not_looked_for": phrase("not looked for"),
        "some": phrase("some"),
        "severity_note": phrase(
            "Critical can hurt someone; major affects performance or life; minor is appearance "
            "only. The figures count stoves with at least one such fault at their first "
            "inspection."
        ),
        "limit_columns": [
            phrase("Severity"),
            phrase("AQL, %%"),
            phrase("Inspect"),
            phrase("Accept up to"),
            phrase("Reject from"),
        ],
        "none_may_fail": phrase("none may fail"),
        "seed": phrase(
            "The sample was drawn with the seed %(seed)s; anyone can draw it again with this seed.",
            **SLOTS,
        ),
        "sample": phrase("Stoves in the sample:"),
    }


def _list_faults(summary: Mapping[str, Any]) -> dict[str, Any]:
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


def _list_measures(summary: Mapping[str, Any]) -> dict[str, Any]:
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
            *(
                _describe_index(name, measure[key])
                for name, key in (("Pp", "pp"), ("Ppk", "ppk"))
                if measure[key]
            ),
        ],
    }


def _describe_index(name: str, index: Mapping[str, str]) -> Phrase:
    return phrase(
        "%(index)s %(value)s (%(low)s to %(high)s)",
        index=name,
        **{key: Figure(index[key]) for key in ("value", "low", "high")},
    )


def _list_rest(summary: Mapping[str, Any]) -> dict[str, Any]:
    check = summary["recheck"]
    return {
        "not_applied": phrase("Said not to apply"),
        "not_applied_note": phrase(
            "The checklist lets an inspector say that these checks do not apply to a stove. They "
            "were then not judged."
        ),
        "not_applied_columns": [phrase("Check"), phrase("Severity"), phrase("Stoves")],
        "conceded": phrase("Released by concession"),
        "photo": phrase("Photo %(photo)s", **SLOTS),
        "photo_of": phrase("Photo %(photo)s of stove %(serial)s", **SLOTS),
        "absent": phrase("Not printed, but kept by the yard:"),
        "absent_photo": phrase("photo %(photo)s", **SLOTS),
        "not_released": phrase("Not released"),
        "not_released_columns": [phrase("Stove"), phrase("Disposition"), phrase("Reason")],
        "recheck": phrase("The buyer's own check"),
        "recheck_columns": [phrase("Whose"), phrase("Inspected"), phrase("Failed")],
        "buyer": phrase("Buyer"),
        "yard": phrase("Yard"),
        "difference": check
        and phrase(
            "Difference of the rates: %(difference)s (%(low)s to %(high)s).",
            **{key: as_percent(check[key]) for key in ("difference", "low", "high")},
        ),
        "who": phrase("Inspectors and tools"),
        "inspectors": phrase("Inspectors, by code:"),
        "nobody": phrase("none yet."),
        "inspector_note": phrase("In brackets: the number of stoves each inspected."),
        "tool_columns": [
            phrase("Check"),
            phrase("Resolution of the tool"),
            phrase("Uncertainty (k = 2)"),
            phrase("Rule near a limit"),
        ],
        "rule_note": phrase(
            "Simple: a value inside its limit passes. Guarded: it must be inside by more than the "
            "uncertainty."
        ),
        "checklists": phrase("Checklists"),
    }


def _list_check() -> dict[str, Any]:
    return {
        "how_to_check": phrase("How to check this paper"),
        "checking": phrase(
            "This paper is printed from a signed file. Open %(address)s or scan the code, or "
            "check the file offline with %(command)s. Compare the key below with the one the "
            "yard gave you in another way.",
            **SLOTS,
        ),
        "checking_file": phrase(
            "This paper is printed from a signed file. Check the file offline with %(command)s. "
            "Compare the key below with the one the yard gave you in another way.",
            **SLOTS,
        ),
        "digest": phrase("SHA-256 of the summary"),
        "key": phrase("Yard's public key (Ed25519)"),
        "rests_on": phrase("Based on log record"),
        "running_hash": phrase("%(number)s, running hash %(digest)s", **SLOTS),
        "log": phrase("Yard's log"),
        "signature_note": phrase(
            "The signature shows that the holder of the yard's key issued exactly these figures. "
            "It does not show that the stoves were inspected with care."
        ),
        "qr": phrase("QR code with the address %(address)s", **SLOTS),
        "cautions": phrase("Cautions"),
        "codes_signed": phrase(
            "Characters that the fonts of this paper do not have are shown as %(sign)s, their "
            "Unicode number; the signed file has them as written.",
            **SLOTS,
        ),
    }
