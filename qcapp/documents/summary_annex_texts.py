"""What the annex of the printed summary says, and how to check the paper."""

from collections.abc import Mapping, Sequence
from typing import Any

from qcapp.documents.paper_words import SLOTS
from qcapp.documents.summary_fault_texts import say_fault
from qcapp.documents.summary_shares import as_percent
from qcapp.i18n.localized_text import join
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.reports.totals import WORDS

# So many stand on the second page; the annex has all, with their photos.
MOST_CONCEDED = 5


def list_annex_texts(summary: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "annex": phrase("Annex"),
        **_list_check_texts(),
        **_list_stove_texts(summary),
        **_list_recheck_texts(summary["recheck"]),
        **_list_inspector_texts(),
    }


def _list_check_texts() -> dict[str, Any]:
    return {
        "checked": phrase("What was checked"),
        "check_columns": [phrase("Check"), phrase("Severity"), phrase("Limits")],
        "not_applied": phrase("Said not to apply"),
        "not_applied_note": phrase(
            "The checklist lets an inspector say that these checks do not apply to a stove. They "
            "were then not judged."
        ),
        "not_applied_columns": [phrase("Check"), phrase("Severity"), phrase("Stoves")],
        "checklists": phrase("Checklists"),
    }


def _list_stove_texts(summary: Mapping[str, Any]) -> dict[str, Any]:
    conceded = summary["concessions"]
    return {
        "conceded": phrase("Released by concession"),
        "conceded_columns": [phrase("Stove"), phrase("Fault"), phrase("Reason")],
        "conceded_faults": [
            join("; ", [say_fault(fault) for fault in row["faults"]]) for row in conceded
        ],
        "more_conceded": _say_more_conceded(conceded),
        "most_conceded": MOST_CONCEDED,
        "photo": phrase("Photo %(photo)s", **SLOTS),
        "photo_of": phrase("Photo %(photo)s of stove %(serial)s", **SLOTS),
        "absent": phrase("Not printed, but kept by the yard:"),
        "absent_photo": phrase("photo %(photo)s", **SLOTS),
        "no_photo": phrase("No photo was taken."),
        "not_released": phrase("Not released"),
        "not_released_columns": [phrase("Stove"), phrase("Disposition"), phrase("Reason")],
        "serials": phrase("Serials of the inspected stoves"),
        "ends": {
            "release": phrase("Released"),
            "concession": WORDS["concession"],
            "rework": WORDS["rework"],
            "scrap": WORDS["scrap"],
            "hold": WORDS["hold"],
        },
    }


def _say_more_conceded(conceded: Sequence[Mapping[str, Any]]) -> Phrase:
    more, has_photo = len(conceded) - MOST_CONCEDED, any(row["photos"] for row in conceded)
    if more > 0:
        return phrase("%(n)s more, and all photos, are in the annex.", n=more)
    return phrase("Photos are in the annex.") if has_photo else phrase("No photo was taken.")


def _list_recheck_texts(check: Mapping[str, Any] | None) -> dict[str, Any]:
    return {
        "recheck": phrase("The buyer's own check"),
        "recheck_columns": [phrase("Whose"), phrase("Inspected"), phrase("Failed")],
        "rechecked_columns": [
            phrase("Stove"),
            phrase("Checks"),
            phrase("Not as agreed"),
            phrase("Note"),
        ],
        "buyer": phrase("Buyer"),
        "yard": phrase("Yard"),
        "difference": check
        and phrase(
            "Difference of the rates: %(difference)s (%(low)s to %(high)s).",
            **{key: as_percent(check[key]) for key in ("difference", "low", "high")},
        ),
    }


def _list_inspector_texts() -> dict[str, Any]:
    return {
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
    }


def list_proof_texts() -> dict[str, Any]:
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
