"""Give an artisan a link to the card."""

from datetime import datetime

from qcapp.access.card_links import make_card_link
from qcapp.errors import BadInput
from qcapp.i18n.catalogue import list_languages
from qcapp.i18n.phrase import phrase
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.usecases.load_card import load_given_card


def give_card_link(
    store: Store, settings: Settings, artisan: str, *, language: str, by: str, now: datetime
) -> str:
    """The token of the link. language: empty for that of the artisan's browser. Raises NotFound,
    BadInput, and Clash while the lot keeps the card back.
    """
    if language and language not in list_languages():
        raise BadInput(
            phrase("this language is not known here"), language, phrase("choose from the list")
        )
    load_given_card(store, settings, artisan, now)
    return make_card_link(
        store,
        artisan=artisan,
        language=language or None,
        made_by=by,
        days=settings.link_days,
        now=now,
    )
