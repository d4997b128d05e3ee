"""The sentences of a signed summary, which holds them as data: what is promised, what changed,
cautions.

CATALOGUE is written into each summary. It is raised when a code gets another meaning or other
params; a new wording changes nothing. `python3 -m tests.summary_schema` writes all of them into
summary.schema.json.
"""

from qcapp.i18n.localized_text import Day, Figure
from qcapp.i18n.messages import MessageTable
from qcapp.i18n.phrase import phrase
from qcapp.inspection.terms import REGIMES, SEVERITIES
from qcapp.reports import decision_reasons

FORMAT = "batch-summary/2"
CATALOGUE = 2
MESSAGES = MessageTable(decision_reasons.REASONS)

# --- what is promised of the batch
SAMPLE_NOT_LOOKED_AT = MESSAGES.sentence(
    "promise_sample_not_whole",
    "%(looked_at)s of the %(drawn)s stoves drawn at random were inspected; until all are, the "
    "sample promises nothing about the other stoves.",
)
SAMPLE_PROMISE = MESSAGES.sentence(
    "promise_sample",
    "%(drawn)s of %(lot)s stoves, drawn at random, had every check, and %(found)s of them had a "
    "fault that matters for use or safety; with 95 %% confidence at most %(left)s of the other "
    "%(others)s would show one under the same checks, and this sample cannot promise a smaller "
    "number.",
)
EVERY_NOT_INSPECTED = MESSAGES.sentence(
    "promise_every_not_whole",
    "%(inspected)s of %(lot)s stoves were inspected; nothing is known or promised about the "
    "other %(left)s.",
)
EVERY_PROMISE = MESSAGES.sentence(
    "promise_every",
    "Every one of the %(lot)s stoves was inspected, so nothing here depends on a sample; the "
    "checks find only what they look at, and even a careful inspector can miss a fault.",
)

# --- the buyer's re-check
RECHECK = MESSAGES.sentence(
    "recheck_beside",
    "Compared with: %(what)s. %(judged)s (exact p %(p)s).",
    what={
        "sample": phrase("stoves of the yard's sample with a fault at first pass"),
        "concessions": phrase("released stoves that the yard released by concession"),
    },
    judged={
        "more": phrase("The buyer found more than chance explains"),
        "fewer": phrase("The buyer found fewer than chance explains"),
        "chance": phrase("The difference may be chance"),
    },
    p=Figure,
)

# --- why there is no capability index, or only one
NO_LIMIT = MESSAGES.sentence("index_no_limit", "there is no limit to compare with")
COUNTED = MESSAGES.sentence("index_counted", "counted, not measured")
TOO_FEW_VALUES = MESSAGES.sentence(
    "index_too_few", "%(values)s values are too few; %(needed)s are needed"
)
ALL_THE_SAME = MESSAGES.sentence("index_all_the_same", "all values are the same")
NO_BELL_CURVE = MESSAGES.sentence(
    "index_no_bell_curve",
    "the values do not follow a normal distribution, so an index would mislead; see the bars and "
    "the count outside",
)
ONE_LIMIT = MESSAGES.sentence(
    "index_one_limit", "Pp needs a lower and an upper limit; Ppk uses the one there is"
)

# --- what changed since the summary before
CHANGED_DECISION = MESSAGES.sentence("changed_decision", "decision")
CHANGED_OVERRULING = MESSAGES.sentence("changed_overruling", "overruled")
CHANGED_ORDER = MESSAGES.sentence("changed_order", "order")
CHANGED_SIGNATORY = MESSAGES.sentence("changed_signatory", "who answers for it")
CHANGED_PLAN = MESSAGES.sentence("changed_plan", "plan")
CHANGED_CHECKLIST = MESSAGES.sentence("changed_checklist", "checklist")
CHANGED_CLOSING = MESSAGES.sentence("changed_closing", "batch closed")
CHANGED_RECHECK = MESSAGES.sentence("changed_recheck", "buyer's re-check")
CHANGED_DETAILS = MESSAGES.sentence(
    "changed_details", "details of faults, measured values, reasons or texts"
)
# By their key under "counts".
CHANGED_COUNTS = {
    "offered": MESSAGES.sentence("changed_offered", "stoves offered"),
    "inspected": MESSAGES.sentence("changed_inspected", "stoves inspected"),
    "not_inspected": MESSAGES.sentence("changed_not_inspected", "stoves not inspected"),
    "good": MESSAGES.sentence("changed_good", "good at the first inspection"),
    "faulty": MESSAGES.sentence("changed_faulty", "faulty at the first inspection"),
    "released_at_once": MESSAGES.sentence(
        "changed_released_at_once", "released at the first inspection"
    ),
    "released_later": MESSAGES.sentence(
        "changed_released_later", "released later, after rework or a hold"
    ),
    "rework": MESSAGES.sentence("changed_rework", "waiting for rework"),
    "concession": MESSAGES.sentence("changed_concession", "released by concession"),
    "scrap": MESSAGES.sentence("changed_scrap", "scrapped"),
    "hold": MESSAGES.sentence("changed_hold", "held"),
}
CHANGED_FAULTS = {
    "critical": MESSAGES.sentence("changed_critical", "stoves with a critical fault at first pass"),
    "major": MESSAGES.sentence("changed_major", "stoves with a major fault at first pass"),
    "minor": MESSAGES.sentence("changed_minor", "stoves with a minor fault at first pass"),
}

# --- from what, to what; of a count the number itself
DECISION = {
    "accept": MESSAGES.sentence("is_accept", "accept"),
    "reject": MESSAGES.sentence("is_reject", "reject"),
    "not_ready": MESSAGES.sentence("is_not_ready", "not ready"),
}
OVERRULED_BY = MESSAGES.sentence("is_overruled_by", "by %(by)s: %(reason)s")
NOT_OVERRULED = MESSAGES.sentence("is_not_overruled", "no")
ORDER = MESSAGES.sentence(
    "is_order", "order %(number)s, contract %(contract)s, %(ordered)s stoves ordered"
)
SIGNATORY = MESSAGES.sentence("is_signatory", "%(name)s, %(role)s")
NOT_GIVEN = MESSAGES.sentence("is_not_given", "not given")
PLAN_EVERY = MESSAGES.sentence("is_plan_every", "every one of %(lot)s stoves")
PLAN_SAMPLE = MESSAGES.sentence(
    "is_plan_sample",
    "sample of %(drawn)s of %(lot)s stoves, %(regime)s, %(aqls)s, seed %(seed)s",
    regime=REGIMES,
)
PLAN_AQL = MESSAGES.sentence(
    "is_plan_aql", "%(severity)s %(aql)s %%", severity=SEVERITIES, aql=Figure
)
REVISION = MESSAGES.sentence("is_revision", "%(id)s revision %(revision)s")
CLOSED_AT = MESSAGES.sentence("is_closed_at", "%(moment)s", moment=Day)
STILL_OPEN = MESSAGES.sentence("is_still_open", "still open")
FAILED_OF = MESSAGES.sentence("is_failed_of", "%(failed)s of %(of)s")
RECHECK_FAILED = MESSAGES.sentence("is_recheck_failed", "%(failed)s of %(of)s not as agreed")
NO_RECHECK = MESSAGES.sentence("is_no_recheck", "none")
AS_ISSUED = MESSAGES.sentence("is_as_issued", "as issued")
SEE_BELOW = MESSAGES.sentence("is_see_below", "see below")

CAUTIONS = (
    MESSAGES.sentence(
        "caution_no_certificate",
        "A quality pass is not a safety certificate: the checks do not test smoke, carbon monoxide "
        "or fuel use.",
    ),
    MESSAGES.sentence(
        "caution_monoxide",
        "Charcoal always gives off carbon monoxide, which has no smell, and no stove prevents "
        "it: light and use stoves in the open air, never indoors, and never sleep near one.",
    ),
    MESSAGES.sentence(
        "caution_sickness",
        "Headache, dizziness, sickness or weakness near a lit stove: go out to fresh air, put "
        "the fire out, get medical help.",
    ),
    MESSAGES.sentence(
        "caution_place",
        "Set a stove on level ground, a metre from cloth and thatch; keep children away; move it "
        "only when it is cold.",
    ),
    MESSAGES.sentence(
        "caution_standard",
        "A stove sold as meeting a national standard needs the recognised laboratory or authority. "
        "Building, fire and electrical rules are local and come first.",
    ),
    MESSAGES.sentence("caution_pay", "Never decide pay or dismissals on these figures alone."),
)
