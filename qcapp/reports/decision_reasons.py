"""The sentences of a decision, stored as data: in the event that overrules it and in the signed
summary.
"""

from qcapp.i18n.messages import Message, MessageTable
from qcapp.i18n.phrase import Phrase, phrase, phrase_n

FAULTS_AT_FIRST_PASS = {
    "critical": phrase("Critical faults at first pass"),
    "major": phrase("Major faults at first pass"),
    "minor": phrase("Minor faults at first pass"),
}


def _count_stoves(n: int) -> Phrase:
    return phrase_n("%(n)s stove", "%(n)s stoves", n)


def _count_released(n: int) -> Phrase:
    return phrase_n("%(n)s is released", "%(n)s are released", n)


MAX_SERIALS = 12
REASONS = MessageTable()
NONE_INSPECTED = REASONS.sentence("none_inspected", "No stove of this batch has been inspected.")
RECORDS_QUARANTINED = REASONS.sentence_n(
    "records_quarantined",
    "%(n)s record of this batch is held back and counts nowhere until somebody decides.",
    "%(n)s records of this batch are held back and count nowhere until somebody decides.",
)
# Serials of a long list: the first ones, and how many more.
AND_MORE = REASONS.sentence("and_more", "%(shown)s and %(more)s more")

# --- a sample
FAULTS_NONE_ACCEPTED = REASONS.sentence_n(
    "faults_none_accepted",
    "%(severity)s in %(failed)s of %(n)s stove; none is accepted.",
    "%(severity)s in %(failed)s of %(n)s stoves; none is accepted.",
    severity=FAULTS_AT_FIRST_PASS,
)
FAULTS_AGAINST_LIMITS = REASONS.sentence_n(
    "faults_against_limits",
    "%(severity)s in %(failed)s of %(n)s stove; up to %(ac)s accept, %(re)s or more reject.",
    "%(severity)s in %(failed)s of %(n)s stoves; up to %(ac)s accept, %(re)s or more reject.",
    severity=FAULTS_AT_FIRST_PASS,
)
SAMPLE_NOT_WHOLE = REASONS.sentence_n(
    "sample_not_whole",
    "%(n)s stove of the sample is not fully inspected yet: %(serials)s.",
    "%(n)s stoves of the sample are not fully inspected yet: %(serials)s.",
)
CRITICAL_NOT_LOOKED_AT = REASONS.sentence_n(
    "critical_not_looked_at",
    "%(n)s stove has not been checked yet for faults that can hurt someone.",
    "%(n)s stoves have not been checked yet for faults that can hurt someone.",
)
NO_CRITICAL_CHECKS = REASONS.sentence(
    "no_critical_checks",
    "No check of this checklist looks for faults that can hurt someone, so none was looked for.",
)
FAULTY_WAITS = REASONS.sentence_n(
    "faulty_waits",
    "%(n)s stove with a fault is waiting and must pass before it can be released.",
    "%(n)s stoves with a fault are waiting and must pass before they can be released.",
)
DRAWN_AGAIN = REASONS.sentence(
    "drawn_again", "A sample was drawn %(drawn)s times for this batch; the last one counts."
)
INSPECTED_BEFORE_DRAWN = REASONS.sentence_n(
    "inspected_before_drawn",
    "%(n)s stove of the sample was inspected before it was drawn.",
    "%(n)s stoves of the sample were inspected before it was drawn.",
)

# --- every stove
RELEASED_WITH_CRITICAL = REASONS.sentence_n(
    "released_with_critical",
    "%(n)s stove is released with an open fault that can hurt someone.",
    "%(n)s stoves are released with an open fault that can hurt someone.",
)
ALL_SCRAPPED = REASONS.sentence("all_scrapped", "Every stove was scrapped; none is left to accept.")
ALL_INSPECTED = REASONS.sentence(
    "all_inspected",
    "Every one of the %(stoves)s was inspected; %(released)s, %(sound)s with no open fault.",
    stoves=_count_stoves,
    released=_count_released,
)
RELEASED_BY_CONCESSION = REASONS.sentence_n(
    "released_by_concession",
    "%(n)s stove is released by concession, with a known fault that cannot hurt anyone; the "
    "reason is stated.",
    "%(n)s stoves are released by concession, with a known fault that cannot hurt anyone; the "
    "reasons are stated.",
)
SCRAPPED = REASONS.sentence_n(
    "some_scrapped",
    "%(n)s stove is scrapped and stays with the yard.",
    "%(n)s stoves are scrapped and stay with the yard.",
)
NOT_INSPECTED = REASONS.sentence_n(
    "not_inspected",
    "%(n)s stove of %(lot)s is not inspected yet.",
    "%(n)s stoves of %(lot)s are not inspected yet.",
)
WAIT_FOR_REWORK = REASONS.sentence_n(
    "wait_for_rework", "%(n)s stove waits for rework.", "%(n)s stoves wait for rework."
)
WAIT_FOR_DECISION = REASONS.sentence_n(
    "wait_for_decision", "%(n)s stove waits for a decision.", "%(n)s stoves wait for a decision."
)
RELEASED_UNCHECKED = REASONS.sentence_n(
    "released_unchecked",
    "%(n)s stove is released without every check: %(serials)s.",
    "%(n)s stoves are released without every check: %(serials)s.",
)
OPEN_MAJOR = REASONS.sentence_n(
    "open_major",
    "%(n)s stove is released with an open major fault and no concession.",
    "%(n)s stoves are released with an open major fault and no concession.",
)
OPEN_MINOR = REASONS.sentence_n(
    "open_minor",
    "%(n)s stove is released with an open minor fault and no concession.",
    "%(n)s stoves are released with an open minor fault and no concession.",
)


def shorten_serials(serials: list[str]) -> list[str] | Message:
    shown, more = serials[:MAX_SERIALS], len(serials) - MAX_SERIALS
    return AND_MORE(shown=shown, more=more) if more > 0 else shown
