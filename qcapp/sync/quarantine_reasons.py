"""Why a record does not count, or cannot be taken: kept in the log and told to the phone as data.

The phone words them from its own catalogue, static/phone/words, under reason.<code>.
"""

from typing import Any

from pydantic import ValidationError

from qcapp.i18n.messages import Message, MessageTable
from qcapp.i18n.phrase import phrase

# Of a place's name in a record that is not well-formed.
MAX_PLACE = 200
# By pydantic's name for the error and by ours (inspection/event_parts.py); another stands as it is
# named.
FORM_ERRORS = {
    "missing": phrase("is missing"),
    "string_type": phrase("must be text"),
    "int_type": phrase("must be a whole number"),
    "bool_type": phrase("must be true or false"),
    "list_type": phrase("must be a list"),
    "dict_type": phrase("must be an object"),
    "model_type": phrase("must be an object"),
    "string_too_short": phrase("is too short"),
    "string_too_long": phrase("is too long"),
    "string_pattern_mismatch": phrase("is not written correctly"),
    "string_unicode": phrase("is not readable text"),
    "literal_error": phrase("is not one of the allowed values"),
    "greater_than_equal": phrase("is too small"),
    "less_than_equal": phrase("is too large"),
    "too_short": phrase("has too few entries"),
    "too_long": phrase("has too many entries"),
    "value_error": phrase("is not right"),
    "superfluous": phrase("does not belong here"),
}

REASONS = MessageTable()
WRONG_FORM = REASONS.sentence("wrong_form", "form: %(place)s %(error)s", error=FORM_ERRORS)
WRONG_HASH = REASONS.sentence("wrong_hash", "hash: the content differs from what the phone sealed")
UNSIGNED = REASONS.sentence("unsigned", "not signed: nothing shows that the phone it names made it")
BAD_SIGNATURE = REASONS.sentence(
    "bad_signature", "its signature was not made with the key of the phone it names"
)
OLD_KEY = REASONS.sentence(
    "old_key", "signed with a key that its phone had before it joined again with another"
)
UNKNOWN_PHONE = REASONS.sentence("unknown_phone", "the phone it names never joined this yard")
REVOKED_PHONE = REASONS.sentence(
    "revoked_phone", "it came after the phone it names had been removed"
)
FOREIGN_LOSS = REASONS.sentence(
    "foreign_loss", "a loss of records that another phone reports, not the one that had them"
)
NOT_AN_INSPECTOR = REASONS.sentence(
    "not_an_inspector",
    "%(inspector)s is no inspector, and this changes a record that another made",
)
SERVER_ONLY = REASONS.sentence(
    "server_only",
    "kind: only the yard's server can make a %(kind)s",
    kind=lambda kind: kind.replace("_", " "),
)
UNKNOWN_INSPECTOR = REASONS.sentence("unknown_inspector", "unknown inspector: %(inspector)s")
UNKNOWN_STUDY = REASONS.sentence("unknown_study", "unknown study: %(study)s")
UNKNOWN_GAUGE = REASONS.sentence("unknown_gauge", "unknown template or gauge: %(gauge)s")
RECHECK_ONLY = REASONS.sentence(
    "recheck_only", "a phone of the buyer's inspector may only check batch %(batch)s again"
)
UNKNOWN_BATCH = REASONS.sentence("unknown_batch", "unknown batch: %(batch)s")
BATCH_CLOSED = REASONS.sentence("batch_closed", "batch closed: %(batch)s")
UNKNOWN_CHECKLIST = REASONS.sentence("unknown_checklist", "unknown checklist: %(checklist)s")
UNPUBLISHED_CHECKLIST = REASONS.sentence(
    "unpublished_checklist", "this yard did not publish the checklist: %(checklist)s"
)
UNKNOWN_ARTISAN = REASONS.sentence("unknown_artisan", "unknown artisan: %(names)s")
UNKNOWN_CHECK = REASONS.sentence("unknown_check", "unknown check: %(names)s")
UNKNOWN_SIZE = REASONS.sentence("unknown_size", "unknown size: %(size)s")
IMPOSSIBLE_VALUE = REASONS.sentence("impossible_value", "impossible value: %(names)s")
IMPOSSIBLE_PHOTO = REASONS.sentence(
    "impossible_photo", "what the record says of a photo cannot be: %(names)s"
)
DISPOSITION_WITH_FAIL = REASONS.sentence(
    "disposition_with_fail",
    "disposition: %(kind)s with a failed check",
    kind={"release": phrase("release"), "concession": phrase("concession")},
)
OTHER_CONTENT_FIRST = REASONS.sentence(
    "other_content_first", "a record with this id and other content came first; that one counts"
)
TOO_LARGE = REASONS.sentence(
    "too_large", "too large: an event may have at most %(max_bytes)s bytes; shorten the note"
)
OVER_ALLOWANCE = REASONS.sentence(
    "over_allowance", "this phone has sent all that one may send in a day; the rest waits on it"
)
TOO_DEEP = REASONS.sentence("too_deep", "nested too deeply: this is not a record of the app")


def describe_form_error(error: ValidationError) -> Message:
    """The first thing that is not as a record has it."""
    first = error.errors(include_url=False, include_input=False)[0]
    given: dict[str, Any] = first.get("ctx", {})
    # Bodies are checked inside a record, and say by themselves where and what.
    place = ".".join(map(str, (*first["loc"], *given.get("at", ()))))
    shown = place.encode(errors="replace").decode()[:MAX_PLACE]
    return WRONG_FORM(place=shown or "record", error=given.get("problem", first["type"]))
