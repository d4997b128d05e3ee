"""What reports, charts and papers say is whole in every language,
and the cautions lose nothing on the way.
"""

import pytest

from qcapp.i18n.catalogue import ENGLISH, list_languages, load_locale
from qcapp.reports.summary_messages import CAUTIONS, MESSAGES
from tests.catalogues import extract, list_gaps

OTHERS = [language for language in list_languages() if language != ENGLISH]
# Of each caution the words without which it would not be one.
KEPT = {
    "fr": (
        ("certificat de sécurité", "monoxyde de carbone"),
        (
            "monoxyde de carbone",
            "pas d’odeur",
            "plein air",
            "jamais à l’intérieur",
            "jamais dormir",
        ),
        ("Mal de tête", "air frais", "éteindre", "médicale"),
        ("sol plat", "un mètre", "enfants", "froid"),
        ("norme nationale", "laboratoire", "locales"),
        ("Paie", "jamais"),
    ),
    "pt": (
        ("certificado de segurança", "monóxido de carbono"),
        (
            "monóxido de carbono",
            "não tem cheiro",
            "ar livre",
            "nunca dentro de casa",
            "nunca dormir",
        ),
        ("Dor de cabeça", "ar fresco", "apagar", "médica"),
        ("chão plano", "um metro", "crianças", "frio"),
        ("norma nacional", "laboratório", "locais"),
        ("Pagamentos", "nunca"),
    ),
}


def test_french_and_portuguese_are_there_and_something_is_to_be_said():
    assert {"fr", "pt"} <= set(OTHERS) and len(extract("figures")) > 400


@pytest.mark.parametrize("language", OTHERS)
def test_catalogue_is_whole(language):
    assert not list_gaps(language, "figures")


@pytest.mark.parametrize("language", sorted(KEPT))
def test_cautions_keep_every_part(language):
    for sentence, kept in zip(CAUTIONS, KEPT[language], strict=True):
        caution = MESSAGES.word(sentence())
        said = load_locale(language).translate(caution)
        assert said != caution and all(words in said for words in kept), said
