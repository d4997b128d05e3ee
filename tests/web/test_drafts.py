"""A draft of a checklist on its pages: each change kept at once, errors in plain words beside their
field, every change read before it is published, practised on a phone that keeps nothing of it.
"""

import html
import itertools
import json
import re
from datetime import timedelta
from pathlib import Path

import pytest

from qcapp.checklist.draft_fields import read_fields, read_source_text
from qcapp.checklist.edit import set_fields
from qcapp.checklist.load import load_checklist, read_text
from qcapp.checklist.write import as_source, write_yaml
from qcapp.store.registry import checklists, drafts, yard_drawings
from qcapp.usecases.edit_checklist import load_open_draft
from qcapp.usecases.publish_checklist import clean_drawings
from qcapp.web.checklists.plain_errors import say_with_place
from tests.builders import NOW, make_cookie, open_client, open_yard
from tests.checklist.small import SVG, YAML
from tests.page_text import text_of
from tests.web.test_checklists import find_current, list_deeds

pytestmark = pytest.mark.slow
FOLDER = Path(__file__).resolve().parents[2] / "checklists"
ID = "finished-stove"
PAGE = f"/yard/checklists/{ID}"
LOADED = load_checklist(FOLDER / f"{ID}.yaml")
SHIPPED = LOADED.revision
ASH = "checks.height-of-the-ash-door"
NEW_CHECK = {
    "kind": "measure",
    "ask": "Height of the ash door",
    "how": "Steel rule, inside edge to inside edge.",
    "part": "door",
    "step": "hang-door",
    "severity": "major",
    "fault": "Too low",
    "unit": "mm",
}
WIDTH_OF_NEW_SIZE = (
    "Width of the door opening: Limits, size extra-large, new: "
    "at least 117 mm, target 120 mm, at most 123 mm"
)
NEW_STEP_OF_PAINT = (
    "Paint covers, no runs: Step that causes its faults: now Polish the body; before Paint the body"
)
LIMITS = {
    **{f"{ASH}.measure.limits.{size}.lower": "40" for size in ("small", "medium", "large")},
    f"{ASH}.measure.possible.lower": "0",
    f"{ASH}.measure.possible.upper": "200",
}
DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 300 200"><path d="M0 0h300v200"/></svg>'
)


@pytest.fixture
def yard():
    yard = open_yard()
    with yard.store.writing() as connection:
        checklists.publish_checklist(
            connection, LOADED, origin="file", now="2026-11-01T00:00:00.000Z"
        )
    return yard


def post(yard, page, **fields):
    """Without going on to the page that follows."""
    return yard.client.post(f"{PAGE}{page}", data=fields, follow_redirects=False)


def press(yard, *words):
    """One button of a list: up, down, retire, restore."""
    return post(yard, "/items", what=" ".join(words))


def read(yard, page=""):
    return text_of(yard.client.get(f"{PAGE}{page}"))


def read_draft(yard):
    return load_open_draft(yard.store, FOLDER, ID)


def list_changes(yard):
    return [f"{one.of}: {one.text}" for one in read_draft(yard).checked.changes]


def publish(yard):
    page = yard.client.get(f"{PAGE}/changes").text
    return post(yard, "/publish", seen=re.search(r'name="seen" value="(\w*)"', page)[1])


def count_rows(yard):
    with yard.store.reading() as connection:
        return len(drafts.list_drafts(connection)), len(yard_drawings.load_drawings(connection))


def test_looking_begins_no_draft(yard):
    for page in ("", "/steps", "/sizes", "/drawing", "/changes", "/new-check", "/checks/latch"):
        assert yard.client.get(f"{PAGE}{page}").status_code == 200
    assert count_rows(yard) == (0, 0)
    assert f"Nothing differs from revision {SHIPPED}" in read(yard, "/changes")


@pytest.mark.both_engines
def test_new_check_with_its_limits_is_read_and_published_to_phones(yard):
    first = post(yard, "/new-check", **NEW_CHECK)
    assert first.headers["location"].startswith(f"{PAGE}/checks/height-of-the-ash-door?")
    page = yard.client.get(first.headers["location"]).text
    beside = re.search(rf'id="w-{ASH}.measure.limits.small">([^<]+)<', page)[1]
    assert html.unescape(beside) == "No limit yet: fill in at least, at most, or both."
    assert publish_is_barred(yard)
    post(yard, "/checks/height-of-the-ash-door", **LIMITS)
    words = read(yard, "/changes")
    assert "Height of the ash door New check" in words
    assert "Limits, size small: at least 40 mm" in words
    assert find_current(yard)["revision"] == SHIPPED and list_deeds(yard) == []
    assert publish(yard).headers["location"] == "/yard/checklists"
    current = find_current(yard)
    assert current["revision"] == SHIPPED + 1 and count_rows(yard) == (0, 0)
    reference = yard.client.get("/api/sync/reference", headers=yard.headers).json()
    (sent,) = [one for one in reference["checklists"] if one["compiled"]["id"] == ID]
    assert "height-of-the-ash-door" in [check["id"] for check in sent["compiled"]["checks"]]
    ((audit_message, about),) = list_deeds(yard)
    assert audit_message == "checklist_published"
    assert about["checklist"] == f"{ID}@{SHIPPED + 1}" and about["hash"] == sent["hash"][:16]


MISSING = {
    "kind": ("guess", "Choose how it is answered."),
    "ask": ("", "The question is missing: write what the inspector is asked."),
    "how": ("", "How it is done is missing: write it so that everybody does it alike."),
    "fault": ("", "The fault is missing: write what is wrong when the check fails."),
    "part": ("", "Choose a part, or name a new one."),
    "step": ("", "Choose a step, or name a new one."),
    "unit": (" ", "The unit is missing: write it, such as mm."),
}


@pytest.mark.parametrize("name", MISSING)
def test_new_check_without_something_says_it_beside_its_field_and_keeps_the_rest(yard, name):
    given, sentence = MISSING[name]
    caution = "Keep fingers out of the door."
    answer = post(yard, "/new-check", **{**NEW_CHECK, "caution": caution, name: given})
    beside = re.findall(r'id="w-(\w+)">([^<]+)<', answer.text)
    assert [(field, html.unescape(words)) for field, words in beside] == [(name, sentence)]
    assert caution in html.unescape(answer.text)
    assert count_rows(yard) == (0, 0)


def test_new_check_brings_its_new_part_and_step_and_its_caution(yard):
    new = {"part": "", "new_part": "Ash door", "step": "", "new_step": "Fit the ash door"}
    post(yard, "/new-check", **{**NEW_CHECK, **new, "trade": "assembly", "caution": "Sharp edge."})
    source = read_draft(yard).source
    part, step, check = (source[name][-1] for name in ("parts", "steps", "checks"))
    assert (part["id"], part["title"]) == ("ash-door", {"en": "Ash door"})
    assert (step["trade"], step["title"]) == ("assembly", {"en": "Fit the ash door"})
    assert (check["part"], check["step"]) == (part["id"], step["id"])
    assert check["caution"] == {"en": "Sharp edge."}


def publish_is_barred(yard):
    """Also for who sends the form by hand."""
    assert "Publish these" not in read(yard, "/changes")
    post(yard, "/publish", seen=read_draft(yard).checked.seen)
    return find_current(yard)["revision"] == SHIPPED


def test_what_was_not_shown_is_not_published(yard):
    press(yard, "retire", "checks", "latch")
    shown = read_draft(yard).checked.seen
    press(yard, "retire", "checks", "paint-dry")
    for seen in ("", shown):
        post(yard, "/publish", seen=seen)
        assert find_current(yard)["revision"] == SHIPPED
    publish(yard)
    gone = {"latch", "paint-dry"}
    assert not gone & {check["id"] for check in find_current(yard)["checks"]}
    assert list_deeds(yard)[0][1]["weaker_in"] == "checks.latch"


def test_retired_check_is_named_with_its_caution_and_comes_back_as_it_was(yard):
    press(yard, "retire", "checks", "leg-load")
    words = read(yard, "/changes")
    assert "Legs carry 20 kg for one minute This check is retired" in words
    assert "Its caution goes with it: “Feet clear" in words
    assert "is left out. It is critical" in words
    publish(yard)
    assert "Bring back" in read(yard)
    press(yard, "restore", "checks", "leg-load")
    publish(yard)
    before = LOADED.check_by_id["leg-load"]
    with yard.store.reading() as connection:
        current = checklists.get_current_checklist(connection, ID)
    assert current.check_by_id["leg-load"] == before


def test_code_of_a_retired_check_is_never_given_again(yard):
    press(yard, "retire", "checks", "latch")
    publish(yard)
    post(yard, "/new-check", **{**NEW_CHECK, "kind": "tick", "ask": "Latch"})
    assert read_draft(yard).source["checks"][-1]["id"] == "latch-2"
    # Nor a fault's within its check.
    faults = [fault["id"] for fault in find_current(yard)["checks"][0]["faults"]]
    press(yard, "retire", "faults", faults[0], "sharp-edges")
    publish(yard)
    post(yard, "/checks/sharp-edges/faults", words=faults[0].replace("-", " "))
    checks = {check["id"]: check for check in read_draft(yard).source["checks"]}
    assert [fault["id"] for fault in checks["sharp-edges"]["faults"]][-1] == f"{faults[0]}-2"


def test_checks_steps_faults_answers_and_sizes_are_added_moved_and_deleted(yard):
    order = [check["id"] for check in read_draft(yard).source["checks"] if check["part"] == "body"]
    press(yard, "up", "checks", order[1])
    post(yard, "/checks/door-fit/faults", words="Door rubs")
    press(yard, "up", "faults", "door-rubs", "door-fit")
    post(yard, "/new/sizes", words="Extra large", like="large")
    press(yard, "up", "sizes", "extra-large")
    post(yard, "/new/steps", words="Polish the body", trade="paint")
    post(yard, "/checks/paint-cover", **{"checks.paint-cover.step": "polish-the-body"})
    post(yard, "/new/tools", words="Ash rake")
    post(yard, "/checks/latch", **{"checks.latch.tool": "ash-rake"})
    post(yard, "/checks/latch/after", before="sharp-edges")
    told = list_changes(yard)
    first, second = (LOADED.check_by_id[one].ask["en"] for one in order[:2])
    for sentence in (
        "The whole checklist: New size: “extra-large”",
        "Polish the body: New step",
        "Ash rake: New tool",
        "Door follows the body and covers: New fault: Door rubs",
        WIDTH_OF_NEW_SIZE,
        NEW_STEP_OF_PAINT,
    ):
        assert sentence in told, (sentence, told)
    moves = [text for text in told if "Moves" in text]
    assert moves in (
        [f"{second}: Moves to the front"],
        [f"{first}: Moves: it comes after “{second}” now"],
    )
    assert any("Only after these checks: now" in text for text in told)
    post(yard, "/checks/latch/after", before="leg-rock")
    words = read(yard, "/checks/latch")
    assert "“Stands without rocking” must come first, and comes later" in words


def test_key_points_of_a_step_are_typed_on_its_page_and_told_before_publishing(yard):
    point = "steps.hang-door.key_points.1"
    page = yard.client.get(f"{PAGE}/steps").text
    assert f'name="{point}.do.en"' in page and f'name="{point}.why.fr"' in page
    post(yard, "/names", **{f"{point}.do.en": "Bend first", f"{point}.why.en": ""})
    assert [one.key for one in read_draft(yard).checked.errors] == [f"{point}.why.en"]
    post(yard, "/names", **{f"{point}.why.en": "It pulls later"})
    assert "Make and hang the door: Key point 1, What to do (English), new: “Bend first”" in (
        list_changes(yard)
    )
    assert 'name="steps.hang-door.key_points.2.do.en"' in yard.client.get(f"{PAGE}/steps").text


def test_choice_and_count_have_their_own_fields(yard):
    choice = {**NEW_CHECK, "kind": "choice", "ask": "Colour of the liner"}
    post(yard, "/new-check", **choice)
    page = "/checks/colour-of-the-liner"
    post(yard, f"{page}/options", words="Split in two", verdict="fail")
    text = yard.client.get(f"{PAGE}{page}").text
    key = "checks.colour-of-the-liner.choice.options.split-in-two"
    assert f'name="{key}.title.en"' in text and f'name="{key}.fault"' in text
    rows = yard.client.get(f"{PAGE}/checks/grate-hole-count").text
    assert 'name="checks.grate-hole-count.count.rows.medium"' in rows


def test_nothing_is_lost_and_the_last_change_can_be_undone(yard):
    post(yard, "/names", **{"title.en": "Our stove"})
    post(yard, "/names", **{"title.en": "Our better stove"})
    page = open_client(yard.client.app, cookie=make_cookie(yard.store)).get(PAGE)
    assert "Our better stove" in text_of(page) and "Last change: LEAD" in text_of(page)
    assert "A draft is begun" in text_of(yard.client.get("/yard/checklists"))
    post(yard, "/undo")
    assert read_draft(yard).source["title"]["en"] == "Our stove"
    post(yard, "/undo")
    post(yard, "/undo")
    assert count_rows(yard) == (0, 0)
    post(yard, "/names", **{"title.en": "Our stove"})
    post(yard, "/discard")
    assert count_rows(yard) == (0, 0)
    assert [deed for deed, _about in list_deeds(yard)] == ["checklist_draft_discarded"]


def test_older_page_does_not_overwrite_what_another_typed(yard):
    post(yard, "/checks/latch", version="0", **{"checks.latch.ask.en": "Mine"})
    answer = post(yard, "/checks/latch", version="0", **{"checks.latch.ask.en": "Yours"})
    assert answer.status_code == 400 and "This draft was changed meanwhile" in text_of(
        answer
    ).replace("this draft", "This draft")
    assert 'value="Yours"' in answer.text, "what was typed is still there"
    checks = {check["id"]: check for check in read_draft(yard).source["checks"]}
    assert checks["latch"]["ask"]["en"] == "Mine"


def test_draft_says_when_another_revision_came_in_between(yard):
    press(yard, "retire", "checks", "paint-dry")
    text = yard.client.get(f"{PAGE}.yaml").text
    text = text.replace(f"revision: {SHIPPED}", f"revision: {SHIPPED + 1}", 1)
    text = text.replace("Finished stove", "Our stove", 1)
    page = yard.client.post("/yard/checklist-text", data={"text": text}).text
    # Publishing by YAML ends no draft of somebody else's without a word.
    seen = re.search(r'name="seen" value="(\w+)"', page)[1]
    yard.client.post("/yard/checklist-text", data={"text": text, "seen": seen})
    assert find_current(yard)["title"]["en"] == "Our stove"
    words = read(yard)
    assert "was published after this draft was begun" in words
    assert any("now “Finished stove”; before “Our stove”" in one for one in list_changes(yard))


def test_downloaded_draft_is_yaml_that_comes_back(yard):
    press(yard, "retire", "checks", "paint-dry")
    text = yard.client.get(f"{PAGE}/draft.yaml").text
    assert "revision: %s" % (SHIPPED + 1) in text and "paint-dry" not in text
    assert "Comments that stood in an uploaded file are not in it" in read(yard)
    shown = yard.client.post("/yard/checklist-text", data={"text": text})
    assert shown.status_code == 200 and "Paint dry: This check is retired" in text_of(shown)


# --- Errors in plain words

YAML_WORDS = re.compile(r"\bkeys?\b|[{}]|quote|\bids?\b|YAML|\w:\.|nominal|lower \d|\[\w|batch\.")


def test_no_field_can_be_typed_into_words_of_a_file(tmp_path):
    """Every field emptied, and filled with nonsense, in a checklist with each kind of check."""
    (tmp_path / "small.svg").write_text(SVG)
    source = read_source_text(YAML)
    told = set()
    fields = [key for key in read_fields(source) if not key.endswith((".fr", ".pt"))]
    for key, typed in itertools.product(fields, ("", "?! 9", "9999")):
        changed = set_fields(source, {key: typed})
        _made, errors = read_text(write_yaml(changed), "draft", tmp_path)
        told |= {str(say_with_place(error, changed)) for error in errors}
    assert len(told) > 60
    assert not [words for words in told if YAML_WORDS.search(words)]


def test_picture_chosen_for_two_faults_is_told_in_plain_words():
    source = read_source_text(write_yaml(as_source(LOADED.compiled())))
    faults = [fault.id for fault in LOADED.check_by_id["sharp-edges"].faults]
    key = "checks.sharp-edges.faults.{}.picture"
    changed = set_fields(source, {key.format(one): "tape-across" for one in faults[:2]})
    _made, errors = read_text(write_yaml(changed), "draft", FOLDER)
    (words,) = (say_with_place(error, changed) for error in errors)
    assert words == (
        "“Cloth slides over every edge”, Picture: This picture is chosen twice here: "
        "choose another picture, or none."
    )


# --- The drawing


def upload(yard, content):
    return yard.client.post(f"{PAGE}/drawing", files={"file": ("own.svg", content)})


@pytest.mark.both_engines
def test_drawing_is_uploaded_its_parts_placed_and_sent_to_phones_once_published(yard):
    before = yard.client.get("/api/sync/hello").json()["reference_tag"]
    answer = upload(yard, DRAWING.encode())
    assert "This part is not on the drawing yet" in html.unescape(answer.text)
    for place, part in enumerate(read_draft(yard).source["parts"]):
        post(yard, "/drawing/parts", part=part["id"], x=str(20 + 10 * place), y="100,5", width="9")
    page = read(yard, "/drawing")
    assert "placed at 20, 100.5" in page and read_draft(yard).checked.errors == ()
    assert yard.client.get("/api/sync/hello").json()["reference_tag"] == before
    publish(yard)
    reference = yard.client.get("/api/sync/reference", headers=yard.headers).json()
    name = find_current(yard)["drawing"]
    assert re.fullmatch(r"finished-stove-[0-9a-f]{12}\.svg", name)
    assert reference["tag"] != before and 'id="door"' in reference["drawings"][name]
    # Of the drawings on the way there, none is kept.
    assert count_rows(yard) == (0, 1)


def test_undo_finds_the_drawing_that_was_there_before(yard):
    upload(yard, DRAWING.encode())
    first = read_draft(yard).source["drawing"]
    post(yard, "/drawing/parts", part="door", x="50", y="60", width="9")
    assert read_draft(yard).source["drawing"] != first
    with yard.store.writing() as connection:
        clean_drawings(connection)
    post(yard, "/undo")
    assert read_draft(yard).source["drawing"] == first
    assert "is not on the drawing yet" in read(yard, "/drawing")


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "no file was chosen"),
        (b"<svg", "not well-formed"),
        (DRAWING.replace("<path", "<script/><path").encode(), "contains"),
        (DRAWING.replace("<path", '<path onclick="x"').encode(), "contains onclick"),
        (DRAWING.replace(' viewBox="0 0 300 200"', "").encode(), "how large it is"),
        (b"x" * 200_001, "too large"),
    ],
    ids=["empty", "cut off", "script", "handler", "no size", "too large"],
)
def test_drawing_that_a_phone_must_not_show_is_refused(yard, content, says):
    answer = upload(yard, content)
    assert answer.status_code == 400 and says.lower() in text_of(answer).lower()
    assert count_rows(yard) == (0, 0)


@pytest.mark.parametrize(
    ("part", "x", "says"),
    [
        ("ash-door", "", "A place is missing"),
        ("ash-door", "900", "This place is not on the drawing"),
        ("door", "100", "This part is drawn as an outline already"),
        ("nothing", "100", "This part is not in the draft"),
    ],
)
def test_place_that_cannot_be_is_said_beside_the_field(yard, part, x, says):
    post(yard, "/new/parts", words="Ash door")
    answer = post(yard, "/drawing/parts", part=part, x=x, y="10", width="9")
    assert answer.status_code == 400 and says.lower() in text_of(answer).lower()


# --- The practice


def make_token(yard):
    page = post(yard, "/practise").text
    return re.search(r"/phone/#/practice/([\w-]+)", page)[1]


def test_joined_phone_gets_the_draft_as_it_is_now_and_no_reference_holds_it(yard):
    press(yard, "retire", "checks", "paint-dry")
    token = make_token(yard)
    post(yard, "/names", **{"title.en": "Our stove"})
    answer = yard.client.get(f"/api/practice/{token}", headers=yard.headers)
    found = answer.json()
    assert answer.headers["cache-control"] == "no-store"
    assert found["compiled"]["title"]["en"] == "Our stove"
    assert "paint-dry" not in [check["id"] for check in found["compiled"]["checks"]]
    assert found["compiled"]["drawing"] in found["drawings"]
    reference = yard.client.get("/api/sync/reference", headers=yard.headers).json()
    assert found["hash"] not in [one["hash"] for one in reference["checklists"]]
    with yard.store.reading() as connection:
        assert found["hash"] not in checklists.list_hashes(connection)


def test_link_to_practise_needs_a_phone_a_whole_draft_and_ends(yard):
    press(yard, "retire", "checks", "paint-dry")
    token = make_token(yard)
    address = f"/api/practice/{token}"
    assert open_client(yard.client.app).get(address).status_code == 401
    assert yard.client.get("/api/practice/other", headers=yard.headers).status_code == 404
    post(yard, "/checks/latch", **{"checks.latch.ask.en": ""})
    assert yard.client.get(address, headers=yard.headers).status_code == 400
    assert post(yard, "/practise").status_code == 400
    post(yard, "/undo")
    assert yard.client.get(address, headers=yard.headers).status_code == 200
    yard.client.app.state.clock = lambda: NOW + timedelta(hours=13)
    assert yard.client.get(address, headers=yard.headers).status_code == 404


def test_record_by_a_draft_counts_nowhere(yard):
    """A phone keeps no draft; one that did so all the same would find its record held back."""
    press(yard, "retire", "checks", "paint-dry")
    found = yard.client.get(f"/api/practice/{make_token(yard)}", headers=yard.headers).json()
    event = yard.phone.inspect("B1-001")
    body = {**event["body"], "answers": {}, "verdicts": {}}
    made = yard.phone.seal(
        "inspection", "B1-001", {**body, "checklist_hash": found["hash"]}, batch="B1"
    )
    made = json.loads(json.dumps(made).replace(event["checklist_hash"], found["hash"]))
    answer = yard.push(made)
    assert answer["results"][0]["outcome"] != "stored"


def test_trainer_changes_a_draft_and_the_lead_publishes_it(yard):
    trainer = open_client(
        yard.client.app, cookie=make_cookie(yard.store, code="T01", role="trainer")
    )
    trainer.post(f"{PAGE}/items", data={"what": "retire checks paint-dry"})
    page = trainer.get(f"{PAGE}/changes")
    assert "Paint dry This check is retired" in text_of(page)
    assert "The yard lead publishes it" in text_of(page) and "/publish" not in page.text
    seen = read_draft(yard).checked.seen
    assert trainer.post(f"{PAGE}/publish", data={"seen": seen}).status_code == 403
    assert "Last change: T01" in read(yard)
    publish(yard)
    assert find_current(yard)["revision"] == SHIPPED + 1


def test_a_first_piece_is_switched_at_its_step(yard):
    assert "Check the first piece" in read(yard, "/steps")
    assert press(yard, "add", "first_piece", "hang-door").status_code == 303
    assert "hang-door" in read_draft(yard).source["first_piece"]
    press(yard, "retire", "first_piece", "hang-door")
    assert not read_draft(yard).is_changed
    assert press(yard, "add", "first_piece", "no-such-step").status_code == 404
    assert press(yard, "add", "tools", "rule").status_code == 400


def test_an_earlier_check_that_should_have_caught_a_fault_is_chosen(yard):
    earlier = load_checklist(FOLDER / "fired-liner.yaml")
    with yard.store.writing() as connection:
        checklists.publish_checklist(
            connection, earlier, origin="file", now="2026-11-01T00:00:00.000Z"
        )
    check = next(one for one in LOADED.checks if not one.should_be_caught_by)
    chosen = f"{earlier.stage}:{earlier.checks[0].id}"
    assert post(yard, f"/checks/{check.id}/should_be_caught_by", before=chosen).status_code == 303
    assert f'value="retire should_be_caught_by {chosen} {check.id}"' in (
        yard.client.get(f"{PAGE}/checks/{check.id}").text
    )
    assert read_draft(yard).checked.errors == ()
    press(yard, "retire", "should_be_caught_by", chosen, check.id)
    assert not read_draft(yard).is_changed
    for wrong in ("", "cladding", f"{earlier.stage}:no-such-check"):
        page = f"/checks/{check.id}/should_be_caught_by"
        assert post(yard, page, before=wrong).status_code == 400


def test_another_checklist_begins_like_one_that_is_here(yard):
    address = "/yard/checklist-text"
    page = yard.client.get(address, params={"like": ID, "title": "Square stove"})
    text = html.unescape(re.search(r"<textarea[^>]*>(.*?)</textarea>", page.text, re.DOTALL)[1])
    done = yard.client.post(address, data={"text": text.strip()}, follow_redirects=False)
    assert done.status_code == 303
    made = load_open_draft(yard.store, FOLDER, "square-stove")
    assert [one["id"] for one in made.source["checks"]] == [one.id for one in LOADED.checks]
    assert yard.client.get(address, params={"like": "none", "title": "x"}).status_code == 404
