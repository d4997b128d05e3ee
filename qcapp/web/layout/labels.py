"""Words for what records and checklists call by a code: roles, kinds, verdicts, severities, what
became of a stove, trades.

A new code that a page shows gets its words here. What a yard's own checklist adds (its trades, its
stages) has none and is shown as it is written there.
"""

from qcapp.checklist.check_kinds import CHECK_KINDS
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.inspection.terms import DISPOSITIONS, REGIMES, RULES, SEVERITIES, TRADES, VERDICTS

ROLES = {
    "trainer": phrase("trainer"),
    "yard_lead": phrase("yard lead"),
    "programme_lead": phrase("programme lead"),
    "inspector": phrase("inspector"),
    "buyers_inspector": phrase("buyer's inspector"),
    "artisan": phrase("artisan"),
    "buyer": phrase("buyer"),
    "anyone": phrase("anyone"),
}
KINDS = {
    "inspection": phrase("inspection"),
    "correction": phrase("correction"),
    "void": phrase("void"),
    "study_answer": phrase("study answer"),
    "first_piece": phrase("first piece"),
    "gauge_check": phrase("check of a template or gauge"),
    "unreadable": phrase("unreadable"),
    **{name: one.label for name, one in CHECK_KINDS.items()},
}
# How much the trainer's figures say, and of a row or a capability which way.
STRENGTHS = {
    "very strong": phrase("very strong"),
    "strong": phrase("strong"),
    "good": phrase("good"),
    "weak": phrase("weak"),
    "too few": phrase("too few"),
    "apprentice": phrase("apprentice"),
    "experienced": phrase("experienced"),
    "both": phrase("first apprentice, then experienced"),
    "lower": phrase("lower"),
    "upper": phrase("upper"),
    "larger": phrase("larger"),
    "smaller": phrase("smaller"),
    "more faults": phrase("more faults"),
    "fewer faults": phrase("fewer faults"),
    "no change shown": phrase("no change shown"),
    "too early": phrase("too early"),
    "no stove before": phrase("no stove before"),
}
# What a line of the trail is about, and what a buyer opened.
ABOUT = {
    "account": phrase("account"),
    "role": phrase("role"),
    "code": phrase("code"),
    "batch": phrase("batch"),
    "device": phrase("phone"),
    "device_id": phrase("phone id"),
    "number": phrase("number"),
    "failed_before": phrase("failed before"),
    "page": phrase("page"),
    "route": phrase("address"),
    "verify": phrase("check of the signature"),
    "answer": phrase("answer"),
    "re-check": phrase("re-check"),
    "painted": phrase("painted"),
}
# Stages of the checklists that come with the program.
STAGES = {
    "blanks": phrase("blanks"),
    "bedding": phrase("bedding"),
    "finished": phrase("finished"),
    "cladding": phrase("cladding"),
    "green-liner": phrase("green liner"),
    "fired-liner": phrase("fired liner"),
}


NAMES: dict[str, Phrase] = {
    **ROLES,
    **KINDS,
    **VERDICTS,
    **SEVERITIES,
    **DISPOSITIONS,
    **REGIMES,
    **RULES,
    **STRENGTHS,
    **TRADES,
    **STAGES,
    **ABOUT,
}


def name(code: str) -> str:
    """A code in the page's language; one without words of its own as it is written, its joints as
    blanks.
    """
    if isinstance(code, Phrase):
        return get_active_locale().translate(code)
    known = NAMES.get(code)
    if known:
        return get_active_locale().translate(known)
    return str(code).replace("_", " ").replace("-", " ")
