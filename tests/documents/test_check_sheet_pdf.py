"""The paper check sheet: every check and limit is on it, boxes are where a pen finds them."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from qcapp.checklist.load import load_checklist
from qcapp.documents.check_sheet_pdf import SheetRequest, build_check_sheet_pdf
from qcapp.documents.sheet_words import describe_sum, needs_letter
from tests.documents.looking import has_white_edge, look_at, read_pages, squeeze

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parent.parent.parent
DATED = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
PICTURES = {
    f"pictures/{path.name}": path.read_text(encoding="utf-8")
    for path in (ROOT / "checklists" / "pictures").glob("*.svg")
}
SHIPPED = sorted(path.stem for path in (ROOT / "checklists").glob("*.yaml"))
PAPER_MM = {1: (210, 297), 5: (297, 210)}


def load(name: str) -> tuple[dict, str, str]:
    checklist = load_checklist(ROOT / "checklists" / f"{name}.yaml")
    return (
        checklist.compiled(),
        checklist.hash,
        (ROOT / "checklists" / checklist.drawing).read_text(encoding="utf-8"),
    )


def build(compiled: dict, checklist_hash: str, drawing: str, **request) -> bytes:
    return build_check_sheet_pdf(
        compiled,
        checklist_hash=checklist_hash,
        drawing_svg=drawing,
        request=SheetRequest(yard="Test yard", **request),
        dated=DATED,
        pictures=PICTURES,
    )


def number(value: float) -> str:
    return f"{value:.10g}"


def list_limit_words(check: dict, size: str) -> list[str]:
    """Figures that must stand with the check: its limits of that size,
    written here by other means than the sheet's.
    """
    limits = check["limits"][size]
    if check["decision"] == "guarded":
        read = [
            number(limits[key])
            for key in ("accept_lower", "accept_upper")
            if limits[key] is not None
        ]
        return [
            *list_limit_words({**check, "decision": "simple"}, size),
            *read,
            "allowing for the tool",
        ]
    if check["kind"] == "count" and {limits["lower"], limits["upper"]} <= {1, None}:
        return [f"{check['unit']}: {'exactly' if limits['upper'] else 'at least'} 1"]
    if limits["lower"] is not None and limits["lower"] == limits["upper"]:
        return [f"exactly {number(limits['lower'])} {check['unit']}"]
    words = {"lower": "at least", "upper": "at most"}
    given = [key for key in words if limits[key] is not None]
    if len(given) == 2:
        return [f"{number(limits['lower'])} to {number(limits['upper'])} {check['unit']}"]
    return [f"{words[given[0]]} {number(limits[given[0]])} {check['unit']}"]


@pytest.mark.parametrize("stoves", [1, 5])
@pytest.mark.parametrize("name", SHIPPED)
def test_every_check_limit_fault_and_caution_is_on_the_sheet(name, stoves):
    compiled, checklist_hash, drawing = load(name)
    pages = read_pages(build(compiled, checklist_hash, drawing, size="medium", stoves=stoves))
    text = "".join(pages)
    for place, check in enumerate(compiled["checks"], 1):
        titles = (
            [one["title"]["en"] for one in (*check["faults"], *check.get("options", ()))]
            if check["kind"] != "choice"
            else [one["title"]["en"] for one in check["options"]]
        )
        labels = [label["en"] for label in check.get("labels", ())]
        caution = [check["caution"]["en"]] if check["caution"] else []
        limits = list_limit_words(check, "medium") if "limits" in check else []
        for words in (
            f"{place}{check['ask']['en']}",
            check["how"]["en"],
            *titles,
            *labels,
            *caution,
            *limits,
        ):
            assert squeeze(words) in text, (check["id"], words)
    for part in compiled["parts"]:
        assert squeeze(part["title"]["en"]) in text
    for page, found in enumerate(pages, 1):
        assert (
            f"Page{page}of{len(pages)}" in found
            and squeeze(f"{compiled['id']} revision {compiled['revision']}") in found
        )
    for words in (
        checklist_hash,
        "release",
        "rework",
        "concession",
        "scrap",
        "hold",
        "Inspector's signature",
        "A quality pass is not a safety certificate",
    ):
        assert squeeze(words) in text


@pytest.mark.parametrize("name", SHIPPED)
def test_without_a_size_the_limits_of_all_sizes_stand(name):
    compiled, checklist_hash, drawing = load(name)
    text = "".join(read_pages(build(compiled, checklist_hash, drawing)))
    for check in compiled["checks"]:
        for size in compiled["sizes"] if "limits" in check else ():
            for words in list_limit_words(check, size):
                assert squeeze(words) in text, (check["id"], size)


def grow(compiled: dict, count: int) -> dict:
    """The checklist with its checks repeated under new ids until there are `count`;
    some with the most readings there may be.
    """
    checks = []
    for place in range(count):
        check = {**compiled["checks"][place % len(compiled["checks"])], "id": f"check-{place}"}
        if check["kind"] == "readings":
            check = {
                **check,
                "n": 12,
                "unit": "hundredths of an inch",
                "labels": [{"en": f"A long place name {label}"} for label in range(12)],
            }
        checks.append(
            check if check["kind"] != "calculated" else {**check, "expression": 1, "inputs": []}
        )
    return {**compiled, "checks": checks}


@pytest.mark.parametrize("stoves", [1, 5])
def test_boxes_of_sixty_checks_stay_on_the_paper_and_apart(monkeypatch, stoves):
    compiled, checklist_hash, drawing = load("finished-stove")
    large = grow(compiled, 60)
    pdf, look = look_at(monkeypatch, lambda: build(large, checklist_hash, drawing, stoves=stoves))
    width, height = PAPER_MM[stoves]
    assert len(look.boxes) > 60 * stoves * 2
    for box in look.boxes:
        assert (
            box["x"] >= 10
            and box["x"] + box["width"] <= width - 10
            and box["y"] >= 10
            and box["y"] + box["height"] <= height - 10
        ), box
        assert min(box["width"], box["height"]) >= 4.5, "a pen needs room"
    assert not [
        pair
        for page in range(1, len(look.pictures) + 1)
        for pair in find_overlaps([box for box in look.boxes if box["page"] == page])
    ]
    assert all(has_white_edge(picture, 8) for picture in look.pictures)
    text = "".join(read_pages(pdf))
    assert all(
        squeeze(f"{place}{check['ask']['en']}") in text
        for place, check in enumerate(large["checks"], 1)
    )


def find_overlaps(boxes: list[dict]) -> list[tuple[dict, dict]]:
    def ends(box):
        return box["x"] + box["width"], box["y"] + box["height"]

    hair = 0.01
    return [
        (one, other)
        for place, one in enumerate(boxes)
        for other in boxes[place + 1 :]
        if one["x"] + hair < ends(other)[0]
        and other["x"] + hair < ends(one)[0]
        and one["y"] + hair < ends(other)[1]
        and other["y"] + hair < ends(one)[1]
    ]


def test_number_of_boxes_is_what_the_checks_ask(monkeypatch):
    compiled, checklist_hash, drawing = load("fired-liner")
    _pdf, look = look_at(
        monkeypatch, lambda: build(compiled, checklist_hash, drawing, size="medium")
    )
    wanted = len(("release", "rework", "concession", "scrap", "hold"))
    for check in compiled["checks"]:
        own = {"tick": 2, "choice": 1, "measure": 2, "count": 2, "calculated": 1}
        wanted += (
            check["n"] + 1 if check["kind"] == "readings" else own[check["kind"]]
        ) + needs_letter(check)
    assert len(look.boxes) == wanted


def test_batch_fills_in_what_is_known_and_leaves_out_what_is_not_asked():
    compiled, checklist_hash, drawing = load("finished-stove")
    batch = {"code": "B1", "title": "First batch"}
    text = "".join(
        read_pages(
            build(
                compiled,
                checklist_hash,
                drawing,
                size="small",
                batch=batch,
                crew={"metalwork": "A77"},
                left_out={"paint-cover"},
            )
        )
    )
    assert squeeze("B1 First batch") in text and "A77" in text
    assert (
        squeeze("Paint covers, no runs") not in text
        and squeeze("No paint on liner or pot rests") in text
    )
    assert squeeze("8Width of the door opening") in text, "numbers are those of the whole checklist"


def test_picture_of_each_check_stands_beside_it_and_its_words_stay(monkeypatch):
    compiled, checklist_hash, drawing = load("fired-liner")
    plain = {
        **compiled,
        "checks": [{**check, "picture": "not-there"} for check in compiled["checks"]],
    }
    with_them, pages = look_at(monkeypatch, lambda: build(compiled, checklist_hash, drawing))
    without, plain_pages = look_at(monkeypatch, lambda: build(plain, checklist_hash, drawing))
    assert sorted("".join(read_pages(with_them))) == sorted("".join(read_pages(without)))
    # A picture of ours is some 150 dots of ink at this size.
    assert count_ink(pages) > count_ink(plain_pages) + 100 * len(compiled["checks"])


def count_ink(look) -> int:
    """Dark dots on all pages."""
    return sum(sum(picture.histogram()[:128]) for picture in look.pictures)


def test_markup_in_any_text_is_only_text():
    nasty = '*b* _i_ #panic("x") $x^2$ `raw` <l> @ref [x] \\ // 你'
    compiled, checklist_hash, drawing = load("fired-liner")
    compiled["title"], compiled["checks"][0]["ask"], compiled["parts"][0]["title"] = (
        {"en": nasty} for _ in range(3)
    )
    text = "".join(
        read_pages(build(compiled, checklist_hash, drawing, batch={"code": nasty, "title": nasty}))
    )
    assert (
        text.count(squeeze(nasty.replace("你", "[U+4F60]"))) >= 5
        and squeeze("do not have are shown as [U+") in text
    )


def test_same_checklist_gives_the_same_bytes():
    assert build(*load("firing")) == build(*load("firing"))


@pytest.mark.parametrize(
    ("tree", "words"),
    [
        (["/", ["*", ["input", "a"], ["input", "b"]], 100], "no. 1 × no. 2 ÷ 100"),
        (
            ["/", ["*", 100, ["abs", ["-", ["input", "a"], ["input", "b"]]]], ["input", "a"]],
            "100 × |no. 1 − no. 2| ÷ no. 1",
        ),
        (["/", 1, ["/", ["input", "a"], 2]], "1 ÷ (no. 1 ÷ 2)"),
        (["*", ["+", ["input", "a"], 0.5], ["neg", ["input", "b"]]], "(no. 1 + 0.5) × −no. 2"),
        (
            ["sqrt", ["max", ["input", "a"], ["+", ["input", "b"], 1]]],
            "root of (largest of (no. 1, no. 2 + 1))",
        ),
    ],
)
def test_sum_reads_in_the_order_it_is_worked_out(tree, words):
    assert describe_sum(tree, {"a": 1, "b": 2}) == words
