"""The card of one artisan as a PDF."""

from datetime import datetime

from qcapp.documents.card_pdf import CardPaper, build_card_pdf
from qcapp.i18n.catalogue import load_locale
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.store.engine import Store
from qcapp.store.registry.accounts import find_account
from qcapp.usecases.card_picture import draw_card_picture
from qcapp.usecases.kept_drawings import KeptDrawings
from qcapp.usecases.load_card import CardView, CommonFault


def print_card(
    store: Store,
    drawings: KeptDrawings,
    view: CardView,
    *,
    yard: str,
    given_by: str,
    language: str,
    now: datetime,
) -> bytes:
    """given_by: code of the account that gives the card."""
    paper = CardPaper(
        yard=yard,
        name=name_artisan(view),
        card=view.card,
        key_points=view.key_points,
        fault=say_fault(view.fault) if view.fault else "",
        picture=draw_card_picture(view, drawings, on_paper=True),
        since=load_locale(language).number_format.write_day(view.card.since),
        ask=say_whom_to_ask(store, given_by),
    )
    return build_card_pdf(paper, dated=now, language=language)


def name_artisan(view: CardView) -> str:
    """As the yard has it: name and code, the code alone where the name was erased."""
    name, code = view.person["name"], view.person["code"]
    return code if name == code else f"{name} ({code})"


def say_fault(fault: CommonFault) -> Phrase:
    return phrase("Found most often: %(fault)s", fault=fault.title)


def say_whom_to_ask(store: Store, given_by: str) -> Phrase:
    with store.reading() as connection:
        account = find_account(connection, given_by)
    if account is None:
        return phrase("Questions, or something wrong? Ask the trainer or the yard lead.")
    return phrase("Questions, or something wrong? Ask %(who)s.", who=account.name)
