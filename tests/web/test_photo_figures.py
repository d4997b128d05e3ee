"""The stove's page and the limits page tell what photos proposed and what was recorded."""

import re
from hashlib import sha256
from io import BytesIO

import pytest
from PIL import Image

from qcapp.sync.photos import receive_whole
from tests.builders import NOW
from tests.page_text import text_of
from tests.photo_yard import inspect, margin_of, open_photo_yard, take


@pytest.fixture(scope="module")
def yard():
    yard = open_photo_yard()
    yard.push(
        inspect(
            yard,
            "L-001",
            {
                "holes": {"values": ["19"], **take()},
                "margin": {"values": ["12.3"], **take("margin")},
            },
        ),
        inspect(yard, "L-002", {"margin": margin_of("12.0", "13", "30")}),
        inspect(yard, "L-003", {"margin": margin_of("11.0", "10.5", "30")}),
    )
    return yard


def test_stove_shows_pictures_proposal_and_value(yard):
    answer = yard.client.get("/stoves/fired-liner/L-001")
    page = text_of(answer)
    assert "Measured in a photo" in page and "19 holes found." in page
    assert "12.3 ± 0.4 mm" in page and "12.3 mm as proposed" in page
    assert "Control ruler of the frame 180 mm, face 0 mm above the frame" in page
    # Nothing has sent the pictures yet, and no other list shows them a second time.
    assert page.count("Photo on its way") == 2
    typed = text_of(yard.client.get("/stoves/fired-liner/L-002"))
    assert "13 mm given by the inspector" in typed
    assert "+1.0 more than both uncertainties explain" in typed


def test_limits_page_reports_the_differences(yard):
    page = text_of(yard.client.get("/yard/limits"))
    assert "What photos proposed, and what was recorded" in page
    assert "Number of holes 1 1 0 –" in page
    told = re.search(r"Smallest margin to the edge (\d+) (\d+) (\d+) (.*?) A value", page)
    assert told and told.groups()[:3] == ("3", "1", "2")
    assert "mean +0.25 mm, from -0.50 to +1.00" in told[4].replace("−", "-")
    assert "standard deviation 1.06" in told[4] and "1 of 2 beyond both uncertainties" in told[4]


def test_pictures_that_arrived_are_shown_once(yard):
    names = []
    for shade in (40, 200):
        kept = BytesIO()
        Image.new("L", (24, 16), shade).save(kept, "JPEG")
        names.append(sha256(kept.getvalue()).hexdigest())
        receive_whole(yard.store, names[-1], kept.getvalue(), sender=None, now=NOW)
    taken = take("margin")
    kept_photo = {**taken["holes"], "photo": names[0], "overlay": names[1]}
    answer = {"values": ["12.3"], "photos": names, "holes": kept_photo}
    yard.push(inspect(yard, "L-004", {"margin": answer}))
    page = yard.client.get("/stoves/fired-liner/L-004").text
    assert [page.count(f'<img src="/photos/{name}"') for name in names] == [1, 1]
    assert "Photo on its way" not in page


def test_held_back_record_tells_what_it_says_of_its_photo(yard):
    taken = take("margin")
    forged = {**taken, "holes": {**taken["holes"], "uncertainty": "0.1"}, "values": ["12.3"]}
    yard.push(inspect(yard, "L-009", {"margin": forged, "holes": {"values": ["19"], **take()}}))
    queue = yard.client.get("/yard/quarantine")
    assert "what the record says of a photo cannot be: margin" in text_of(queue)
    (address,) = set(re.findall(r'href="(/yard/quarantine/[^"#?]+)"', queue.text))
    page = text_of(yard.client.get(address))
    assert "as a photo proposed it, ± 0.1 mm; 12.3 mm" in page
    assert "as a photo proposed it; 19 holes" in page


def test_yard_without_photos_says_nothing_of_them():
    page = text_of(open_photo_yard().client.get("/yard/limits"))
    assert "photos proposed" not in page
