"""The review of a file asks which pieces are options, and makes the options that are typed."""

from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from planner.styles.models import Detail, Option, PatternFile, Piece, Style
from tests import factories as make
from tests.styles import pattern_files as files

pytestmark = pytest.mark.django_db

TEE = Path(settings.BASE_DIR) / "fixtures" / "patterns" / "110-plover-tee.dxf"
OPTIONS = {
    "p3_option": "neck: self band", "p4_option": "neck: rib band", "p5_option": "sleeve: short",
    "p6_option": "sleeve: long", "p7_option": "Sleeve:  long",
}  # fmt: skip
ASKED = "Is each of these an option?"


@pytest.fixture
def address(maker_client: Client) -> str:
    """The review of the tee, two necks and two sleeves in one file, as a new style."""
    told = {"number": "310", "name": "file tee", "files": [files.upload(TEE.read_bytes(), TEE.name)]}
    return maker_client.post(reverse("style-from-file"), told)["Location"]


def page_of(client: Client, address: str) -> str:
    return client.get(address).content.decode()


def send(client: Client, address: str, **answers):
    return client.post(address, files.filled_in(page_of(client, address), **answers))


def again(client: Client, style: Style, content: bytes) -> str:
    sent = client.post(reverse("files-hold", args=[style.number]), {"files": [files.upload(content)]})
    return str(sent["Location"])


def test_two_necks_are_asked_about_openly_and_not_taken_unasked(maker_client, address):
    page = page_of(maker_client, address)
    assert ASKED in page
    assert "<strong>self neck band and rib neck band</strong> look like alternatives" in page
    assert "Every garment has short sleeve and long sleeve: both" in page
    answer = send(maker_client, address)
    assert answer.status_code == 422
    assert answer.content.decode().count("Type the option it is, or tick above") == 4
    assert not Style.objects.filter(number="310").exists()
    assert not Option.objects.exists()


def test_options_that_are_typed_are_made_with_their_details(maker_client, address):
    assert send(maker_client, address, **OPTIONS).status_code == 302
    style = Style.objects.get(number="310")
    made = {d.name: list(d.options.values_list("name", flat=True)) for d in style.details.all()}
    assert made == {"neck": ["self band", "rib band"], "sleeve": ["short", "long"]}
    belongs = {p.name: str(p.option or "") for p in style.pieces.select_related("option")}
    assert belongs == {
        "front": "", "back": "", "back neck tape": "", "self neck band": "self band", "rib neck band": "rib band",
        "short sleeve": "short", "long sleeve": "long", "cuff": "long",
    }  # fmt: skip
    page = page_of(maker_client, reverse("style-detail", args=["310"]))
    assert "into every garment" not in page


def test_what_is_typed_for_one_piece_is_offered_for_the_others(maker_client, address):
    data = files.filled_in(page_of(maker_client, address), p3_option="collar: with lace")
    look = maker_client.post(address, data | {"look": ["1"]}, headers={"HX-Request": "true"}).content.decode()
    offered = look.split('id="known-options"')[1].split("</datalist>")[0]
    assert '<option value="collar: with lace">' in offered
    # The neck is told apart now, the sleeves are still asked about.
    assert "self neck band and rib neck band" not in look
    assert "short sleeve and long sleeve" in look
    assert not Detail.objects.exists()


def test_a_tick_says_that_every_garment_has_both(maker_client, address):
    page = page_of(maker_client, address)
    boxes = [part.split('"')[0] for part in page.split('name="all-')[1:]]
    assert len(boxes) == 2
    answers = files.filled_in(page) | {f"all-{box}": ["on"] for box in boxes}
    assert maker_client.post(address, answers).status_code == 302
    assert not Option.objects.exists()
    # It is taken as told, and stays pointed out.
    page = page_of(maker_client, reverse("style-detail", args=["310"]))
    assert "Self neck band and rib neck band both go into every garment: is each an option?" in page


@pytest.mark.parametrize(
    "typed", ["self band", "neck:", ": self band", "x" * 41 + ": a", "a: " + "x" * 41, "x" * 90]
)
def test_what_is_no_option_is_told_at_its_field(maker_client, address, typed):
    answer = send(maker_client, address, **{**OPTIONS, "p3_option": typed})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Write detail and option" in page or "at most 40 letters" in page or "At most 82 letters" in page
    assert typed in page
    assert not Option.objects.exists()


def test_every_garment_may_be_typed_too(maker_client, address):
    assert send(maker_client, address, **OPTIONS, p2_option="Every garment").status_code == 302
    assert Piece.objects.get(name="back neck tape").option is None


def test_a_further_file_is_compared_with_what_every_garment_has(maker_client):
    style = make.make_style("110", sizes="S M L")
    style.pieces.filter(name="self neck band").update(option=None)
    drawing = files.top(pieces=("front",)).replace(b"front", b"slim neck band")
    address = again(maker_client, style, drawing)
    assert "<strong>slim neck band and self neck band</strong>" in page_of(maker_client, address)
    answer = send(maker_client, address, included="yes", p0_option="NECK: Slim band")
    assert answer.status_code == 302
    option = style.pieces.get(name="slim neck band").option
    assert (option.name, option.detail) == ("Slim band", style.details.get())
    assert list(option.detail.options.values_list("name", flat=True)) == [
        "self band",
        "rib band",
        "Slim band",
    ]


def test_the_option_is_remembered_for_the_next_file(maker_client):
    style = make.make_style("110", sizes="S M L")
    drawing = files.top(pieces=("cuff",))
    assert (
        send(
            maker_client, again(maker_client, style, drawing), included="yes", p0_option="sleeve: long"
        ).status_code
        == 302
    )
    assert PatternFile.objects.latest("pk").answers["pieces"]["cuff"]["option"] == "sleeve: long"
    style.pieces.filter(name="cuff").delete()
    page = page_of(maker_client, again(maker_client, style, drawing))
    assert files.filled_in(page)["p0-option"] == ["sleeve: long"]


def test_the_base_keeps_its_details_to_itself(maker_client):
    base = make.make_style("110", sizes="S M L")
    built = make.make_built_on(base)
    address = again(maker_client, built, files.top(pieces=("cuff",)))
    answer = send(maker_client, address, included="yes", p0_option="neck: binding")
    assert answer.status_code == 422
    assert "neck belongs to the style this one is built on" in answer.content.decode()
    assert send(maker_client, address, included="yes", p0_option="neck: rib band").status_code == 302
    assert built.pieces.get().option == base.details.get().options.get(name="rib band")
