"""README, guide and DEVELOPERS say what the code has: settings, commands, rooms, pictures, figures;
their links lead somewhere, and they stay short.
"""

import re
from decimal import Decimal
from itertools import chain
from pathlib import Path

import pytest
from scipy.stats import norm

from qcapp import __version__
from qcapp.checklist.history import ChecklistHistory, StepRef
from qcapp.cli.main import COMMANDS
from qcapp.i18n.catalogue import load_locale
from qcapp.i18n.phrase import phrase
from qcapp.inspection.report_counts import StepTally
from qcapp.reports.costs import FaultCost, build_cost_report
from qcapp.reports.teach import STRENGTHS
from qcapp.reports.teach_evidence import compare_steps
from qcapp.reports.totals import DIVISIONS, MEANINGS, count_stoves, list_wrong_sums
from qcapp.settings import Settings
from qcapp.stats.agreement import cohen_kappa
from qcapp.stats.attribute_charts import laney_u_chart, u_chart
from qcapp.stats.capability import measure_capability
from qcapp.stats.compare import benjamini_hochberg, find_stoves_to_distinguish, newcombe_difference
from qcapp.stats.cusum import design_bernoulli_cusum
from qcapp.stats.next_batch import predict_rate
from qcapp.stats.operating import (
    bad_stoves_bound,
    find_outgoing_limit,
    operating_curve,
    outgoing_quality,
)
from qcapp.stats.per_unit import rate_per_unit
from qcapp.stats.proportion import wilson_interval
from qcapp.stats.repeat_study import study_repeats
from qcapp.stats.sampling import get_plan
from qcapp.stats.self_starting import find_drift, find_limit, min_spread_of, score_readings
from qcapp.stats.shrinkage import shrink_rates
from qcapp.stats.uncertainty import COVERAGE, Limits, guard_limits
from qcapp.web.guide.markdown import make_anchor
from tests.builders import build_small_checklist
from tests.pictures import NAMES, PICTURES

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
GUIDE = ROOT / "static" / "guide"
# A page's translation, such as keeping.fr.md, is held against it below.
TRANSLATIONS = sorted(GUIDE.glob("*.*.md"))
PAGES = sorted(set(GUIDE.glob("*.md")) - set(TRANSLATIONS))
CHANGES = (GUIDE / "changes.md").read_text(encoding="utf-8")
COMMANDS_PAGE = (GUIDE / "commands.md").read_text(encoding="utf-8")
# Pages of one person's work; the others end with the same few cautions.
WORK_PAGES = ("inspector", "trainer", "buyer", "lead", "figures")
FIGURES = (GUIDE / "figures.md").read_text(encoding="utf-8")
# What is promised and measured, beside the tests that hold it.
BESIDE_TESTS = sorted((ROOT / "tests").glob("*/*.md"))
DOCUMENTS = [ROOT / name for name in ("README.md", "DEVELOPERS.md")]
SAID = " ".join(FIGURES.split())
MAX_PICTURE_BYTES = 60_000
MAX_LINES = {"README.md": 150, "DEVELOPERS.md": 300}
MAX_COLUMNS = 120
DOOR = Limits(97, 103)


def list_commands():
    for name, entry in COMMANDS.items():
        yield from ([name] if isinstance(entry, str) else [f"{name} {sub}" for sub in entry[1]])


def test_every_setting_is_in_the_guide_and_no_other():
    named = set(re.findall(r"^\| `(QCAPP_[A-Z_]+)`", COMMANDS_PAGE, re.MULTILINE))
    assert named == {f"QCAPP_{name.upper()}" for name in Settings.model_fields}


def test_every_default_in_the_guide_is_the_codes():
    for name, field in Settings.model_fields.items():
        if isinstance(field.default, int):
            row = next(
                line for line in COMMANDS_PAGE.splitlines() if f"`QCAPP_{name.upper()}`" in line
            )
            assert f"({field.default})" in row, name


def test_every_command_is_in_the_guide_and_no_other():
    commands = list(list_commands())
    for command in commands:
        assert f"| `qcapp {command}" in COMMANDS_PAGE, command
    known = tuple(f"{command} " for command in commands)
    for named in re.findall(r"^\| `qcapp ([^`]+)`", COMMANDS_PAGE, re.MULTILINE):
        assert f"{named} ".startswith(known), named


def list_rooms() -> set[str]:
    folders = ("qcapp", "qcapp/web", "qcapp/store", "static", "static/phone/js")
    rooms = {path for folder in folders for path in (ROOT / folder).iterdir() if path.is_dir()}
    return {path.name for path in rooms} - {"__pycache__", "bundled", "js"}


def read_tree() -> dict[str, str]:
    """What DEVELOPERS.md says of each room, by the room's name."""
    lines = re.findall(r"^ +(?:js/)?(\w+)/ +(\S.*)$", DEVELOPERS, re.MULTILINE)
    return dict(lines)


def test_every_room_has_its_line_in_the_tree_and_no_other():
    known = list_rooms() | {path.name for path in (ROOT / "tests").iterdir()}
    assert list_rooms() <= set(read_tree()) <= known


def test_a_room_is_one_sentence_without_and():
    assert not {room: line for room, line in read_tree().items() if " and " in line}


@pytest.mark.parametrize("path", [*DOCUMENTS, *BESIDE_TESTS], ids=lambda path: path.name)
def test_every_file_that_is_named_exists(path):
    """By its place in the checkout, in the package, in the phone's scripts, or beside the page."""
    phone = ROOT / "static" / "phone"
    places = (ROOT, ROOT / "qcapp", phone, phone / "js", path.parent)
    named = re.findall(
        r"`((?:[\w-]+/)*[\w-]+\.(?:py|js|ts|md|html|yaml|json|css|typ|toml))`",
        path.read_text(encoding="utf-8"),
    )
    # xy and KIND stand for what a reader chooses.
    named = [name for name in named if not re.search(r"\b(xy|KIND)\.", name)]
    assert not [name for name in named if not any((place / name).exists() for place in places)]


def test_newest_change_is_of_this_version_and_newest_first():
    versions = re.findall(r"^## (\d+(?:\.\d+)*)$", CHANGES, re.MULTILINE)
    assert versions[0] == __version__
    assert versions == sorted(versions, key=lambda text: [*map(int, text.split("."))], reverse=True)


def find_links(page: str) -> list[str]:
    return re.findall(r"\]\((?!http)([^)]+)\)", page)


def find_anchors(page: str) -> set[str]:
    """As the places that show Markdown make them of headings."""
    return {make_anchor(title) for title in re.findall(r"^#+ (.+)$", page, re.MULTILINE)}


@pytest.mark.parametrize("path", [*DOCUMENTS, *PAGES], ids=lambda path: path.name)
def test_relative_links_lead_somewhere(path):
    for link in find_links(path.read_text(encoding="utf-8")):
        name, _, anchor = link.partition("#")
        target = path.parent / name if name else path
        assert target.exists(), link
        assert not anchor or anchor in find_anchors(target.read_text(encoding="utf-8")), link


def test_readme_and_index_lead_to_every_page_of_the_guide():
    names = {path.name for path in PAGES} - {"index.md"}
    assert {f"static/guide/{name}" for name in names} <= set(find_links(README))
    index = find_links((GUIDE / "index.md").read_text(encoding="utf-8"))
    assert {link.partition("#")[0] for link in index} == names


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_page_of_the_guide_leads_to_its_index_and_to_nothing_that_is_not_served(path):
    links = find_links(path.read_text(encoding="utf-8"))
    assert path.stem == "index" or links[0] == "index.md"
    assert not [link for link in links if ".." in link]


@pytest.mark.parametrize("name", MAX_LINES)
def test_document_is_short_enough_to_be_read(name):
    assert len((ROOT / name).read_text(encoding="utf-8").splitlines()) <= MAX_LINES[name]


@pytest.mark.parametrize("path", [*DOCUMENTS, *BESIDE_TESTS, *PAGES], ids=lambda path: path.name)
def test_no_line_of_text_is_longer_than_a_screen(path):
    """A table's row is one line of the file, however long."""
    text = re.sub(r"```.*?```", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    lines = [line for line in text.splitlines() if not line.lstrip().startswith(("|", "!["))]
    assert not [line for line in lines if len(line) > MAX_COLUMNS]


def test_every_picture_is_made_by_the_script_named_on_a_page_and_light():
    files = {path.stem: path for path in PICTURES.iterdir()}
    assert set(files) == set(NAMES) and {path.suffix for path in files.values()} == {".png"}
    named = set()
    for page in (ROOT / "README.md", *PAGES):
        for words, picture in re.findall(
            r"!\[([^\]]*)\]\(([^)]+)\)", page.read_text(encoding="utf-8")
        ):
            assert (page.parent / picture).resolve() in files.values() and words, picture
            named.add(Path(picture).stem)
    assert named == set(NAMES)
    assert not [name for name, path in files.items() if path.stat().st_size > MAX_PICTURE_BYTES]


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_cautions_stand_on_every_page_of_the_guide(path):
    page = path.read_text(encoding="utf-8").lower()
    for words in (
        "quality pass is not a safety certificate",
        "carbon monoxide",
        "local",
        "rags?",
        "indoors",
        "cold stoves",
    ):
        assert re.search(rf"\b{words}\b", page), words
    if path.stem not in WORK_PAGES:
        assert "](inspector.md#take-care-first)" in page
    if path.stem in ("trainer", "lead", "figures"):
        assert "pay and dismissals are never decided on a rate alone" in page
    if path.stem != "buyer":
        for words in ("kiln", "cement", "dust", "under"):
            assert words in page, words


TRANSLATED = ("keeping",)
LANGUAGES = ("fr", "pt")


def test_pages_that_keep_a_yard_running_are_in_every_language():
    assert {path.name for path in TRANSLATIONS} == {
        f"{name}.{language}.md" for name in TRANSLATED for language in LANGUAGES
    }
    assert {path.stem for path in (ROOT / "static" / "phone" / "words").glob("*.json")} == {
        "en",
        *LANGUAGES,
    }


def read_frame(text: str) -> dict[str, list[str]]:
    """What a translation has in common with its page: levels of headings, numbered and other
    points, rows of tables, pictures, links, commands and other literal words.
    """
    return {
        "headings": re.findall(r"^#+", text, re.MULTILINE),
        "points": re.findall(r"^(?:\d+\.|-) ", text, re.MULTILINE),
        "rows": ["|" * line.count(" | ") for line in text.splitlines() if line.startswith("|")],
        "pictures": re.findall(r"!\[[^\]]+\]\(([^)]+)\)", text),
        "links": re.findall(r"(?<!!)\[[^\]]+\]\(([^)]+)\)", text),
        "literal": re.findall(r"`([^`]+)`", text),
        "addresses": re.findall(r"\d+\.\d+\.\d+\.\d+", text),
        "bold": re.findall(r"\*\*", text),
        "labels": re.findall(r"(?<!\*)\*(?!\*)", text),
    }


@pytest.mark.parametrize("path", TRANSLATIONS, ids=lambda path: path.name)
def test_translation_has_the_headings_pictures_and_commands_of_its_page(path):
    page = path.with_name(f"{path.stem.partition('.')[0]}.md").read_text(encoding="utf-8")
    text = path.read_text(encoding="utf-8")
    assert read_frame(text) == read_frame(page)
    lines = [line for line in text.splitlines() if not line.startswith(("|", "!["))]
    assert not [line for line in lines if len(line) > MAX_COLUMNS]


@pytest.mark.parametrize("path", TRANSLATIONS, ids=lambda path: path.name)
def test_translation_names_buttons_as_the_app_does_in_that_language(path):
    name, _, language = path.stem.partition(".")
    page, text = (
        " ".join(one.read_text(encoding="utf-8").split()).replace("’", "'")
        for one in (path.with_name(f"{name}.md"), path)
    )
    labels = re.findall(r"(?<!\*)\*([^*]+)\*(?!\*)", page)
    assert "Let phones in" in labels
    for label in labels:
        said = str(load_locale(language).translate(phrase(label))).replace("’", "'")
        assert said != label and f"*{said}*" in text, (label, said)


def test_what_a_translation_lacks_is_found():
    page = (GUIDE / "keeping.md").read_text(encoding="utf-8")
    for part in ("## Phones\n", "`qcapp lan check`", "(pictures/laptop.png)", "4. ", "10.42.0.1"):
        assert read_frame(page.replace(part, "", 1)) != read_frame(page), part


def test_french_signs_stand_after_their_narrow_spaces():
    text = (GUIDE / "keeping.fr.md").read_text(encoding="utf-8")
    text = re.sub(r"`[^`]*`|\]\([^)]*\)", "", text)
    assert not re.findall(r"[^\u202f\n][;?!](?!\[)|[^\u00a0]:(?=\s)|'", text)


def read_block(at: int) -> list[list[float]]:
    """Numbers of the page's block, line by line."""
    return [
        [float(sign) for sign in line.split()]
        for line in re.findall(r"```\n(.*?)```", FIGURES, re.DOTALL)[at].splitlines()
    ]


def say(share: float, digits: int = 1) -> str:
    return f"{100 * share:.{digits}f} %"


def check(*sentences: str) -> None:
    """Each stands on the page, whatever lines it is broken into."""
    assert [sentence for sentence in sentences if sentence not in SAID] == []


def test_example_of_a_rate():
    few, many, none = wilson_interval(3, 40), wilson_interval(30, 400), wilson_interval(0, 20)
    check(
        f"3 of 40 stoves failed: {say(3 / 40)}, and the true rate may lie between {say(few.low)}"
        f" and {say(few.high)}.",
        f"With 30 of 400 it is the same {say(30 / 400)}, but now between {say(many.low)} and"
        f" {say(many.high)}.",
        f"0 of 20 is no proof of perfection: the true rate may be as high as {say(none.high)}.",
    )


def test_totals_of_a_batch():
    """The guide's words are the pages' own, its example adds up."""
    for meaning in MEANINGS[:2]:
        word, _, said = str(meaning).partition(": ")
        check(f"**{word}**: {said}")
    stoves = count_stoves(
        offered=72,
        faulty=11,
        dispositions={"release": 69, "concession": 2, "scrap": 1},
        released_later=8,
    )
    assert not list_wrong_sums(stoves, 13, {key: {"any": 13} for key in DIVISIONS})
    rate = rate_per_unit([2, 2] + [1] * 9 + [0] * 61)
    check(
        f"{stoves['inspected']} offered and inspected, {stoves['good']} good and 11 faulty.",
        f"{stoves['released_at_once']} released at the first inspection, 8 later",
        f"13 faults: {rate.value:.2f} faults per stove, with an interval from {rate.low:.2f} to"
        f" {rate.high:.2f}.",
    )


def test_example_of_what_goes_out():
    plan = get_plan(90, "2.5")
    shares = [outgoing_quality(90, plan.n, plan.ac, made) for made in (0.02, 0.08, 0.2)]
    worst = find_outgoing_limit(90, plan.n, plan.ac).outgoing
    check(
        "20 of 90 with Ac = 1. Where 2 % are made with a fault,",
        f"on average {say(shares[0])} go out; where 8 % are, {say(shares[1])};",
        f"where 20 % are, {say(shares[2])}. Never more than {say(worst)}.",
    )


def test_example_of_charts_by_batch():
    counts = [(faults, 60) for faults in (20, 26, 19, 24, 46)]
    chart, laney = u_chart(counts), laney_u_chart(counts)
    last, wide = chart.points[-1], laney.points[-1]
    assert last.is_out and not wide.is_out
    check(
        f"The u chart's centre is {chart.centre:.2f} faults per stove, its limits {last.low:.2f} to"
        f" {last.high:.2f}: the last batch, with {last.value:.2f}, stands out.",
        f"By Laney's limits ({wide.low:.2f} to {wide.high:.2f}) it does not",
    )


def test_example_of_batches_before():
    found = predict_rate([(50, 66), (50, 68), (46, 70)], 72)
    check(
        f"has between {say(found.low, 0)} and {say(found.high, 0)}; 61 of 72, or {say(61 / 72, 0)},"
    )


def test_example_of_cost():
    checklist = build_small_checklist()
    place = StepRef(checklist.id, "cut-door-opening")
    cost = FaultCost(Decimal(20), Decimal(15), Decimal(90), "shillings")
    report = build_cost_report(
        {place: 7}, {place: cost}, ChecklistHistory({checklist.hash: checklist}, {}).steps
    )
    check(f"= {report.money['shillings']:.0f}, and {report.minutes} minutes.")


def test_example_of_few_stoves():
    first, _, third, *_ = shrink_rates([(3, 6), (3, 120), (24, 130), (6, 90), (7, 140)]).people
    check(
        "failed 3 of 6, 3 of 120, 24 of 130, 6 of 90 and 7 of 140",
        f"The first has {say(3 / 6, 0)} on paper; after allowing for chance the page shows"
        f" {say(first.rate, 0)} ({say(first.low, 0)} to {say(first.high, 0)}).",
        f"The third stays at {say(third.rate, 0)} ({say(third.low, 0)} to {say(third.high, 0)})",
    )


def test_example_of_a_difference():
    for a, inspected, lead in ((14, 80, "a difference of "), (2, 20, "")):
        found = newcombe_difference(a, inspected, 6, 240)
        check(
            f"{a} of {inspected} against 6 of 240 is {say(a / inspected)} against {say(6 / 240)}:"
            f" {lead}{100 * found.value:.1f} in a hundred ({100 * found.low:.1f} to"
            f" {100 * found.high:.1f})."
        )


def test_example_of_people_as_the_unit():
    def tallies(codes, failed):
        return [
            StepTally(StepRef("finished-stove", "cut"), code, "B1", "2026-11-01", 40, count)
            for code, count in zip(codes, failed, strict=True)
        ]

    old = tallies("DEFGHI", (1, 0, 2, 1, 1, 1))
    even, one = (
        compare_steps({"cut": (tallies("ABC", new), old)}, ["cut"])["cut"].p
        for new in ((5, 5, 4), (14, 0, 0))
    )
    check(
        f"That is 14 of 120 ({say(14 / 120, 0)}) against 6 of 240 ({say(6 / 240)}), and p is"
        f" {even:.3f}:",
        f"it would be the same 14 of 120 against 6 of 240, but p is {one:.2f}.",
    )


def test_example_of_what_could_be_chance():
    adjusted = benjamini_hochberg([0.03, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95])
    words = ", ".join(f"*{word}* up to {most}" for most, word in STRENGTHS)
    check(
        f"about {find_stoves_to_distinguish(2 / 20, 6 / 240, b_per_a=12)} stoves of apprentices",
        "With ten steps, p = 0.03 for the oddest one is no longer rare: allowing for the ten"
        f" looks, it becomes {adjusted[0]:.2f}",
        f"{words}, above that *could be chance*.",
    )


def test_example_of_a_sample():
    plan = get_plan(90, 2.5)
    curve = operating_curve(90, plan.n, plan.ac)
    none, one = (bad_stoves_bound(90, plan.n, found) for found in (0, 1))
    refused, tenth, fifth = (
        1 - curve[2].acceptance,
        *(curve[bad].acceptance for bad in (9, 18)),
    )
    check(
        f"Batch of 90, level II, acceptance quality limit 2.5 %: n = {plan.n}, Ac = {plan.ac}.",
        f"there may still be up to {none} faulty ones among the {90 - plan.n} that nobody looked"
        f" at; if it shows one, up to {one}.",
        f"If {none} faulty stoves are too many",
        f"{plan.n} of 90 with Ac = {plan.ac}. A batch with 2 faulty stoves is refused"
        f" {100 * refused:.0f} times in a hundred. One with 9 is accepted {100 * tenth:.0f} times"
        f" in a hundred, one with 18 still {100 * fifth:.0f} times.",
    )


def test_example_of_too_close_to_call():
    on, inside = (norm.cdf(DOOR.upper, reading, 0.8 / COVERAGE) for reading in (103, 102))
    check(
        f"Above {guard_limits(DOOR, 0.8, 1.0).upper:.1f} and up to {DOOR.upper + 0.8} mm a single"
        " reading is doubtful.",
        f"At 103 mm the chance that the opening is really inside is {say(on, 0)}, at 102 mm"
        f" {say(inside, 0)}.",
    )


def test_example_of_capability():
    readings = [*chain.from_iterable(read_block(0))]
    found = measure_capability(readings, DOOR.lower, DOOR.upper)
    assert (
        len(readings) == 30
        and (found.below, found.above, found.threatened) == (0, 0, "upper")
        and found.ppk.low < 1 < found.ppk.high
    )
    check(
        f"Mean {found.mean:.1f}, spread (standard deviation) {found.s:.2f}, Ppk"
        f" {found.ppk.value:.2f} with an interval from {found.ppk.low:.2f} to"
        f" {found.ppk.high:.2f}.",
        f"about {1000 * found.share_above:.0f} in 1,000 would be too wide",
    )


def test_example_of_agreement():
    usual, easy = cohen_kappa([[33, 2], [1, 4]]), cohen_kappa([[38, 2], [2, 0]])
    check(
        f"The same verdict on {say(usual.observed)}; luck alone gives {say(usual.expected, 0)}. "
        f"Kappa is {usual.kappa:.2f} ({usual.low:.2f} to {usual.high:.2f})",
        f"they would agree on {say(easy.observed)}, and kappa would be {easy.kappa:.2f}",
    )


def test_example_of_repeats():
    found = study_repeats([[line[:2], line[2:4], line[4:]] for line in read_block(1)])
    measuring = found.measuring
    assert found.reproducibility > found.repeatability.value
    check(
        f"Repeatability {found.repeatability.value:.2f} mm, reproducibility"
        f" {found.reproducibility:.2f} mm, together {measuring.value:.2f} mm ({measuring.low:.2f}"
        f" to {measuring.high:.2f}).",
        f"Six of these take {say(6 * measuring.value / (DOOR.upper - DOOR.lower), 0)} of the 6 mm"
        " between the limits.",
    )


def test_example_of_drift():
    readings = [*chain.from_iterable(read_block(2))]
    drift = find_drift(
        score_readings(readings, min_spread_of(1.0)), 0.25, find_limit(0.25, 10_000.0), 20
    )
    plan = design_bernoulli_cusum(0.05, 0.125, 1000)
    assert drift.direction == "above" and all(
        DOOR.lower <= reading <= DOOR.upper for reading in readings
    )
    check(
        f"the signal comes at the {drift.seen + 1}th and says that it began at the"
        f" {drift.began + 1}th. All {len(readings)} are still within",
        f"each faulty stove counts {plan.rise} points and each good one takes 1 away; at"
        f" {plan.limit} points the page speaks. By luck that happens once in some"
        f" {plan.usual_run:,.0f} stoves, at the worse rate after some {plan.worse_run:.0f}.",
    )


def test_example_of_yields():
    stages = (95, 92, 90)
    rolled, last = stages[0] * stages[1] * stages[2] / 100**3, wilson_interval(90, 100)
    check(
        "Shells {} of 100, liners {} of 100, finished stoves {} of 100 good at first pass.".format(
            *stages
        ),
        f"= {say(rolled)}. So of a hundred stoves about {100 * (1 - rolled):.0f} were reworked or"
        " lost somewhere",
        f"has its interval as every rate: {say(last.low)} to {say(last.high)}.",
    )
