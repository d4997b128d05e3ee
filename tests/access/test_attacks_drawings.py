"""Attacks by drawings: what runs or leads out gets in by no way, and no lost or changed file takes
the drawing from an issued summary.
"""

import json
import shutil

import pytest
from typer.testing import CliRunner

from qcapp.app import create_app
from qcapp.checklist.load import find_errors, load_checklist
from qcapp.checklist.pictures import list_shown
from qcapp.cli.main import app as cli
from qcapp.errors import BadInput
from qcapp.settings import Settings
from qcapp.store.registry import drawings
from qcapp.store.tables import DRAWING, REVISION_DRAWING
from qcapp.usecases.kept_drawings import BLANK, KeptDrawings
from qcapp.usecases.open_store import open_store
from tests.access.test_attacks_checklists import (
    OTHER,
    build_harmless,
    make_record,
    read_waiting_hash,
)
from tests.builders import NOW, ROOT, open_client, open_yard
from tests.checklist.small import write_small
from tests.checklist.test_drawing import ACTIVE
from tests.signing_phones import introduce
from tests.sync.test_export_file import build_file, take
from tests.web.test_batch_review import fill, issue
from tests.web.test_summary_link import make_address

OPEN = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9" '
    'xmlns:xlink="http://www.w3.org/1999/xlink" xmlns:h="http://www.w3.org/1999/xhtml">'
)
GOOD = f'{OPEN}<g id="edge"><path d="M0 0h9"/></g></svg>'
REFRESH = f'{OPEN}<h:meta http-equiv="refresh" content="0;url=https://example.org"/></svg>'


@pytest.fixture
def yard():
    return open_yard()


def bring(yard, checklist, sources):
    return [
        {"checklist": checklist.hash, "name": name, "svg": source}
        for name, source in sources.items()
    ]


def read_kept(yard, checklist) -> dict[str, str]:
    with yard.store.reading() as connection:
        return drawings.list_drawings(connection, checklist.hash)


@pytest.mark.parametrize("inner", ACTIVE, ids=range(len(ACTIVE)))
def test_active_drawing_beside_a_checklist_is_refused_on_check_and_at_the_start(
    inner, tmp_path, monkeypatch
):
    path = write_small(tmp_path)
    (tmp_path / "small.svg").write_text(f"{OPEN}{inner}</svg>", encoding="utf-8")
    (error,) = [one for one in find_errors(path) if one.key == "drawing"]
    assert "small.svg contains" in error.what and "(line 1)" in error.what and error.todo
    with pytest.raises(BadInput):
        open_store(Settings(database_url="sqlite://", checklists_dir=tmp_path))


def test_check_of_a_file_names_the_element_the_line_and_what_to_do(tmp_path):
    path = write_small(tmp_path)
    (tmp_path / "small.svg").write_text(REFRESH.replace("><h:meta", ">\n\n<h:meta"))
    result = CliRunner().invoke(cli, ["checklist", "check", str(path)])
    assert result.exit_code == 1
    assert "small.svg contains <meta> of the namespace http://www.w3.org/1999/xhtml (line 3)" in (
        result.output
    )
    assert "use only shapes, groups and text" in result.output


def test_active_drawing_in_the_folder_is_refused_when_the_lead_uploads_a_checklist(yard, tmp_path):
    text = write_small(tmp_path).read_text()
    (tmp_path / "small.svg").write_text(REFRESH)
    yard.client.app.state.settings = yard.client.app.state.settings.model_copy(
        update={"checklists_dir": tmp_path}
    )
    page = yard.client.post(
        "/yard/checklist-text/check", files={"file": ("small.yaml", text.encode())}
    ).text
    assert "contains &lt;meta&gt; of the namespace" in page


@pytest.mark.parametrize("source", [REFRESH, f"{OPEN}<script>1</script></svg>", "<svg"])
def test_active_drawing_that_a_phone_brings_is_never_shown_and_the_lead_reads_why(yard, source):
    harmless = build_harmless(yard)
    brought = bring(yard, harmless, {"round-stove.svg": source})
    yard.push(make_record(harmless), definitions=[harmless.compiled()], drawings=brought)
    assert read_kept(yard, harmless) == {}
    page = yard.client.get(f"/yard/quarantine/checklists/{read_waiting_hash(yard)}").text
    assert "drawing round-stove.svg" in page and "refused" in page
    assert "http-equiv=&#34;refresh" not in page and 'http-equiv="refresh"' not in page
    reference = yard.client.get("/api/sync/reference", headers=yard.headers).text
    assert "refresh" not in reference and "<script" not in reference
    assert KeptDrawings(yard.store).get(harmless) != source


def test_active_drawing_in_a_file_handed_over_is_refused_too(yard):
    harmless = build_harmless(yard)
    brought = bring(yard, harmless, {"round-stove.svg": REFRESH})
    event = make_record(harmless)
    introduce(yard.store, OTHER, NOW)
    take(yard, build_file(event, definitions=[harmless.compiled()], drawings=brought))
    assert read_kept(yard, harmless) == {}
    page = yard.client.get(f"/yard/quarantine/checklists/{read_waiting_hash(yard)}").text
    assert "contains &lt;meta&gt;" in page


def test_good_drawing_comes_along_with_the_checklist_that_a_phone_brings(yard):
    harmless = build_harmless(yard)
    brought = bring(yard, harmless, {"round-stove.svg": GOOD, "pictures/none-asked.svg": GOOD})
    yard.push(make_record(harmless), definitions=[harmless.compiled()], drawings=brought)
    assert read_kept(yard, harmless) == {"round-stove.svg": GOOD}
    assert KeptDrawings(yard.store).get(harmless) == GOOD


def test_phone_cannot_redraw_what_the_yard_published(yard):
    before = read_kept(yard, yard.checklist)
    brought = bring(yard, yard.checklist, {"round-stove.svg": GOOD, "pictures/more.svg": GOOD})
    yard.push(yard.phone.inspect("B1-001"), drawings=brought)
    assert read_kept(yard, yard.checklist) == before


@pytest.mark.parametrize(
    "odd",
    [None, 7, {}, {"checklist": 1, "name": "a", "svg": "b"}, {"svg": GOOD}, [], "x" * 1000],
)
def test_odd_drawings_do_not_keep_a_record_out(yard, odd):
    (result,) = yard.push(yard.phone.inspect("B1-001"), drawings=[odd])["results"]
    assert result["outcome"] == "created"


def test_drawing_of_half_characters_or_zeros_does_not_keep_a_record_out(yard):
    harmless = build_harmless(yard)
    for device, text in {OTHER: r"\ud800", OTHER[:-1] + "c": r"\u0000"}.items():
        odd = json.loads(f'"{text}"')
        event = make_record(harmless, device=device)
        request = json.dumps(
            {
                "protocol": 1,
                "request_id": "r",
                "events": [event],
                "definitions": [harmless.compiled()],
                "drawings": bring(yard, harmless, {"round-stove.svg": GOOD + odd}),
            }
        )
        answer = yard.client.post("/api/sync/push", content=request, headers=yard.headers)
        assert answer.json()["results"][0]["outcome"] == "quarantined"
    assert read_kept(yard, harmless) == {}


def test_drawings_count_into_a_phones_allowance(yard, monkeypatch):
    monkeypatch.setattr("qcapp.sync.allowance.MAX_BYTES", 1)
    harmless = build_harmless(yard)
    yard.push(
        definitions=[harmless.compiled()], drawings=bring(yard, harmless, {"round-stove.svg": GOOD})
    )
    assert read_kept(yard, harmless) == {}


def open_copy(tmp_path, name="yard.db"):
    """A server over a copy of the shipped checklists: (its folder, settings)."""
    folder = tmp_path / "checklists"
    if not folder.exists():
        shutil.copytree(ROOT / "checklists", folder)
    url = f"sqlite:///{tmp_path / name}"
    return folder, Settings(database_url=url, checklists_dir=folder, key_file=tmp_path / "key.pem")


def test_every_shipped_picture_is_kept_with_its_revision_and_each_content_once(tmp_path):
    folder, settings = open_copy(tmp_path)
    store = open_store(settings)
    contents = set()
    with store.reading() as connection:
        for path in folder.glob("*.yaml"):
            checklist = load_checklist(path)
            kept = drawings.list_drawings(connection, checklist.hash)
            assert kept.keys() == list_shown(checklist.compiled())
            assert all(kept[name] == (folder / name).read_text() for name in kept)
            contents.update(kept.values())
        assert len(connection.execute(DRAWING.select()).all()) == len(contents)
    store.close()


def test_picture_of_any_part_of_a_checklist_is_kept():
    """Not only of a check: found in what is compiled, wherever it stands."""
    compiled = load_checklist(ROOT / "checklists" / "finished-stove.yaml").compiled()
    compiled["checks"][0]["faults"][0]["picture"] = "chipped-edge"
    compiled["parts"][0]["picture"] = "whole-part"
    assert {"pictures/chipped-edge.svg", "pictures/whole-part.svg"} <= list_shown(compiled)


def test_drawing_whose_file_changed_or_is_gone_stays_as_published(tmp_path):
    folder, settings = open_copy(tmp_path)
    store = open_store(settings)
    checklist = load_checklist(folder / "finished-stove.yaml")
    before = KeptDrawings(store).get(checklist)
    store.close()
    (folder / "round-stove.svg").write_text(
        before.replace('viewBox="0 0 340 216"', 'viewBox="0 0 341 216"')
    )
    app = create_app(settings, clock=lambda: NOW)
    assert app.state.drawings.get(checklist) == before
    app.state.store.close()
    for path in (*folder.glob("*.svg"), *folder.glob("pictures/*.svg")):
        path.unlink()
    kept = KeptDrawings(app.state.store)
    assert kept.get(checklist) == before != BLANK
    assert kept.list_all(checklist).keys() == list_shown(checklist.compiled())
    app.state.store.close()


def test_pages_and_answers_with_drawings_let_nothing_run(yard):
    yard.push(yard.phone.inspect("B1-001", width="110", disposition="rework"))
    for address in ("/batches/B1", "/trainer", "/stoves/finished/B1-001"):
        answer = yard.client.get(address)
        assert "<svg" in answer.text and answer.headers["x-content-type-options"] == "nosniff"
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy and "unsafe" not in policy
    answer = yard.client.get("/api/sync/reference", headers=yard.headers)
    assert answer.headers["content-type"] == "application/json"
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_issued_summarys_page_and_pdf_outlive_their_drawings_files(tmp_path):
    """And where no drawing is anywhere, the words and figures stay."""
    yard = open_yard(tmp_path)
    fill(yard, 20)
    issue(yard)
    address = make_address(yard)
    before = yard.client.get(address).text
    (tmp_path / "empty").mkdir()
    settings = yard.client.app.state.settings.model_copy(
        update={"checklists_dir": tmp_path / "empty"}
    )
    for shown in (True, False):
        client = open_client(create_app(settings, yard.store, clock=lambda: NOW))
        page, pdf = client.get(address), client.get(f"{address}/summary.pdf")
        assert pdf.content.startswith(b"%PDF") and page.status_code == 200
        assert ('id="door-opening"' in page.text) is shown
        assert not shown or page.text == before
        with yard.store.writing() as connection:
            connection.execute(REVISION_DRAWING.delete())
            connection.execute(DRAWING.delete())
