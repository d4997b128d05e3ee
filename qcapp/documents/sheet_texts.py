"""What the paper check sheet says around its checks; what the template fills in is a slot."""

from collections.abc import Sequence
from typing import Any

from qcapp.documents.paper_words import SLOTS
from qcapp.i18n.localized_text import join
from qcapp.i18n.phrase import phrase
from qcapp.i18n.sizes import name_size


def list_texts(title: str, size: str | None, parts: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """By name, as the template asks for them. parts: with number and title."""
    name = phrase("Check sheet: %(title)s", title=title)
    if size:
        name = phrase("Check sheet: %(title)s, size %(size)s", title=title, size=name_size(size))
    numbered = ", ".join(f"{part['number']} {part['title']}" for part in parts)
    return {
        "name": name,
        "keyword": phrase("check sheet"),
        "drawing": phrase(
            "Drawing of the stove with its parts numbered: %(parts)s", parts=numbered
        ),
        **_list_labels(),
        **_list_marks(),
        **_list_end(),
        "how": phrase("How to fill it in."),
        "how_text": phrase(
            "P pass, F fail, N does not apply, X cannot be measured, which counts as a fail (write "
            "why under Notes). A failed check needs the letter of its fault where letters are "
            "given. Write each reading as the tool shows it; do not round. Leave empty what was "
            "not checked. Numbers in circles are parts on the drawing."
        ),
        "severity_note": [
            [phrase("Critical"), phrase("can hurt someone")],
            [phrase("major"), phrase("costs heat or life")],
            [phrase("minor"), phrase("is appearance only")],
        ],
    }


def _list_labels() -> dict[str, Any]:
    return {
        "batch": phrase("Batch"),
        "size": phrase("Size"),
        "serial": phrase("Serial, as on the stove"),
        "date": phrase("Date"),
        "time": phrase("Time"),
        "inspector": phrase("Inspector (code)"),
        "made_by": phrase("Made by (code; empty where it is not known)"),
        "made_by_trade": phrase("Made by, %(trade)s (code)", **SLOTS),
        "columns": [phrase("No."), phrase("Check"), phrase("Answer")],
        "stove": phrase("Stove %(number)s", **SLOTS),
        "stove_serial": phrase("serial"),
    }


def _list_marks() -> dict[str, Any]:
    """Words in and beside the boxes of a check."""
    return {
        # Typed in by these letters, whatever the language: see TICKS of inspection/paper.py.
        "pass": "P",
        "fail": "F",
        "not_applicable": "N",
        "cannot_measure": "X",
        "fault": phrase("fault"),
        "answer": phrase("answer"),
        "wanted": phrase("Wanted:"),
        "take_care": phrase("Take care:"),
        "answers": phrase("Answers:"),
        "faults": phrase("Faults:"),
        "sum": phrase(
            "Calculated: %(text)s. You may leave it empty: it is calculated again when the sheet "
            "is typed in.",
            **SLOTS,
        ),
    }


def _list_end() -> dict[str, Any]:
    return {
        "becomes": phrase("What happens to it"),
        "one_of_them": phrase("What happens to it (choose one)"),
        "reason": phrase("Reason"),
        "release_rule": phrase(
            "Release a stove only when every check was made and passed. Never release a stove "
            "with a critical fault, not even by concession. Concession, scrap and hold need a "
            "reason."
        ),
        "notes": phrase("Notes (number of the check, what you saw)"),
        "signature": phrase("Inspector's signature"),
        "typed_in": phrase("Typed in by, on"),
        "care": phrase("Take care."),
        "care_text": join(
            " ",
            (
                phrase(
                    "A quality pass is not a safety certificate: smoke, carbon monoxide and fuel "
                    "use are not tested."
                ),
                phrase(
                    "Charcoal gives off carbon monoxide, which has no smell and kills: never light "
                    "a stove indoors, not even to test it."
                ),
                phrase(
                    "Check cold stoves only. Feel edges with a rag, never with a bare thumb; "
                    "gloves on. Under a test load keep hands and feet clear."
                ),
                phrase("Local codes and licensed practice come first."),
            ),
        ),
    }
