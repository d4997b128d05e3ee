"""What each summary tells a buyer of the yard: who answers for it, whom to ask, how to claim."""

from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry.yard_facts import load_yard_facts, save_yard_facts
from qcapp.usecases.form import TypedForm

MAX_LENGTHS = {"signatory": 80, "signatory_role": 80, "contact": 200, "claims": 1000}
MULTILINE = {"claims"}


class BuyersForm(TypedForm):
    signatory: str = ""
    signatory_role: str = ""
    contact: str = ""
    claims: str = ""


def read_buyers_form(store: Store) -> BuyersForm:
    with store.reading() as connection:
        facts = load_yard_facts(connection)
    return BuyersForm(**{name: getattr(facts, name) for name in MAX_LENGTHS})


def save_buyers_form(store: Store, form: BuyersForm) -> None:
    """Keeps nothing when the form says what is wrong."""
    for name, most in MAX_LENGTHS.items():
        text = form.get(name)
        lines = text.splitlines() if name in MULTILINE else [text]
        if len(text) > most or not all(line.isprintable() for line in lines):
            form.refuse(
                name, phrase("This is too long. Write at most %(most)s characters.", most=most)
            )
    if form.signatory_role and not form.signatory:
        form.refuse("signatory", phrase("A role needs a name. Write who has it."))
    if not form.wrong:
        with store.writing() as connection:
            save_yard_facts(connection, **{name: form.get(name) for name in MAX_LENGTHS})
