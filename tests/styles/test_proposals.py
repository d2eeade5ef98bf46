"""Seams that are told from the edges: shown, ticked, made with the operations that sew them."""

import html
import json
import re
from decimal import Decimal
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from planner.core.outline import Outline, rectangle
from planner.core.propose_seams import propose_seams
from planner.core.walk import walk_seams
from planner.styles import actions
from planner.styles.actions import ConfirmedStep
from planner.styles.checks import slips
from planner.styles.models import Operation, PatternFile, PieceOutline, Seam, Style
from planner.styles.specs import style_specs
from tests import factories as make
from tests.core.makers import sentences
from tests.kept_rows import made_once
from tests.styles import pattern_files as files
from tests.styles.constructions import make_swap_top

pytestmark = pytest.mark.django_db

TEE = Path(settings.BASE_DIR) / "fixtures" / "patterns" / "110-plover-tee.dxf"
URL = "seam-propose"


@pytest.fixture
def tee(maker_client: Client) -> Style:
    """The tee as its file has it, its two necks and sleeves given as options, without seams and operations."""
    made_once("the tee from its file", lambda: _bring_tee(maker_client))
    return Style.objects.get(number="310")


def _bring_tee(maker_client: Client) -> None:
    told = {"number": "310", "name": "file tee", "files": [files.upload(TEE.read_bytes(), TEE.name)]}
    address = maker_client.post(reverse("style-from-file"), told)["Location"]
    page = maker_client.get(address).content.decode()
    options = {"p3_option": "neck: self band", "p4_option": "neck: rib band", "p5_option": "sleeve: short"}
    options |= dict.fromkeys(("p6_option", "p7_option"), "sleeve: long")
    assert maker_client.post(address, files.filled_in(page, **options)).status_code == 302
    PatternFile.objects.update(read_by=None)  # people are not kept


def page_of(client: Client, style: Style) -> str:
    answer = client.get(reverse(URL, args=[style.number]))
    assert answer.status_code == 200
    return answer.content.decode()


def make_them(client: Client, style: Style, **answers):
    return client.post(reverse(URL, args=[style.number]), shown(page_of(client, style)) | answers)


def shown(page: str) -> dict[str, list[str]]:
    """The proposals as they stand on the page."""
    return files.filled_in(page, form_id="proposals")


def test_all_that_is_proposed_of_the_tee_is_made_once_and_fits(
    maker_client, tee, django_assert_max_num_queries
):
    with django_assert_max_num_queries(18):
        page = page_of(maker_client, tee)
    assert "15 seams can be told from the edges." in page
    assert not Seam.objects.exists()
    # A seam whose sides read alike is told one length.
    told = re.findall(r"<p class=\"small\">In \w+: ([^<]*)</p>", page)
    assert len(told) == 15
    assert any(words.endswith("\u2009cm, both alike") for words in told)
    apart = [words.split(" to ") for words in told if " to " in words]
    assert apart
    assert all(first != second for first, second in apart)
    answers = shown(page)
    assert maker_client.post(reverse(URL, args=["310"]), answers).status_code == 302
    check_all_is_made(tee)
    # Sent twice they are made once.
    again = maker_client.post(reverse(URL, args=["310"]), answers)
    assert (again.status_code, "The style changed while you looked" in again.content.decode()) == (409, True)
    assert tee.seams.count() == 15
    assert "Nothing more to propose" in page_of(maker_client, tee)


def check_all_is_made(tee: Style) -> None:
    spec = style_specs([tee])["310"]
    assert sentences(walk_seams(spec)) == []
    assert slips(spec) == []
    by_name = {seam.name: seam for seam in tee.seams.select_related("operation", "option")}
    assert len(by_name) == 15
    assert by_name["shoulder"].times == 2
    assert by_name["shoulder"].option is None
    cuff = by_name["cuff"]
    assert (str(cuff.option), cuff.fullness, cuff.ratio) == ("long", "stretched", Decimal("0.850"))
    assert list(cuff.edges.values_list("piece__name", "edge", "side", "takes")) == [
        ("long sleeve", "cuff edge", 1, 1),
        ("cuff", "cuff edge", 2, 1),
    ]
    steps = list(
        tee.operations.values_list("name", "machine", "stitch_type", "option__name", "standard_minutes")
    )
    one = Decimal("1.00")
    assert steps == [
        ("join shoulders", "overlock", "504", None, one),
        ("close the self neck band", "overlock", "504", "self band", one),
        ("close the rib neck band", "overlock", "504", "rib band", one),
        ("set the self neck band", "overlock", "504", "self band", one),
        ("set the rib neck band", "overlock", "504", "rib band", one),
        ("sew on the back neck tape", "sewing machine", "301", None, one),
        ("set the sleeves", "overlock", "504", None, one),
        ("close sides and underarms", "overlock", "504", None, one),
        ("close the cuffs", "overlock", "504", "long", one),
        ("set the cuffs", "overlock", "504", "long", one),
        ("hem the sleeves", "coverstitch", "406", "short", one),
        ("hem the body", "coverstitch", "406", None, one),
    ]


def ticks(page: str) -> dict[str, str]:
    """Names of the ticks by the name of their seam."""
    found = {}
    for part in page.split('class="field tick"')[1:]:
        name = part.split('name="')[1].split('"')[0]
        found[part.split("<label")[1].split(">")[1].split("<")[0]] = name
    return found


def test_what_is_not_ticked_is_not_made_and_what_is_typed_is_kept(maker_client, tee):
    page = page_of(maker_client, tee)
    answers = shown(page)
    boxes = ticks(page)
    for name, box in boxes.items():
        if name not in ("Shoulder", "Side"):
            del answers[box]
    step = next(name for name in answers if answers[name] == ["join shoulders"]).removesuffix("-name")
    answers |= {
        f"{step}-name": ["sew  shoulders"],
        f"{step}-machine": ["sewing machine"],
        f"{step}-stitch": ["304"],
    }
    answers[f"{step}-minutes"] = ["2,5"]
    assert maker_client.post(reverse(URL, args=["310"]), answers).status_code == 302
    assert sorted(tee.seams.values_list("name", flat=True)) == ["shoulder", "side"]
    assert list(tee.operations.values_list("name", "machine", "stitch_type", "standard_minutes")) == [
        ("sew shoulders", "sewing machine", "304", Decimal("2.50")),
        ("close sides and underarms", "overlock", "504", Decimal("1.00")),
    ]
    # What is there is not proposed again, and its operation is offered for what is left.
    again = page_of(maker_client, tee)
    assert "13 seams can be told" in again
    assert {"Shoulder", "Side"}.isdisjoint(ticks(again))
    assert make_them(maker_client, tee).status_code == 302
    assert tee.operations.filter(name="close sides and underarms").count() == 1
    assert tee.seams.filter(operation__name="close sides and underarms").count() == 3


BAD_ANSWERS = (
    ("stitch", "406", "is not made by an overlock"),
    ("minutes", "0", "more than 0"),
    ("minutes", "soon", "soon"),
    ("name", " ", "Please fill this in."),
    ("name", "x" * 81, "At most 80 letters"),
    ("machine", "loom", "choose one of the list"),
    ("name", "Hem the body", "The style has one called hem the body already."),
)


def test_bad_answers_are_told_at_their_field_and_nothing_is_made(maker_client, tee, subtests):
    tee.pieces.exclude(name__in=("front", "back")).delete()
    page = page_of(maker_client, tee)
    answers, boxes = shown(page), ticks(page).values()
    step = next(name for name in answers if answers[name] == ["join shoulders"]).removesuffix("-name")
    nothing = maker_client.post(
        reverse(URL, args=["310"]), {name: typed for name, typed in answers.items() if name not in boxes}
    )
    assert nothing.status_code == 422
    assert "No seam is ticked" in nothing.content.decode()
    for what, typed, words in BAD_ANSWERS:
        with subtests.test(words):
            answer = maker_client.post(reverse(URL, args=["310"]), {**answers, f"{step}-{what}": [typed]})
            assert answer.status_code == 422
            assert words in html.unescape(answer.content.decode())
            assert not Seam.objects.exists()
            assert not Operation.objects.exists()


def test_what_is_ticked_is_made_or_told_and_no_operation_is_called_as_another(maker_client, tee):
    """An edge was named otherwise while she looked, and one option was sewn before the other came."""
    step = {
        "machine": "overlock",
        "stitch_type": "504",
        "option": tee.details.get(name="neck").options.first(),
    }
    tee.operations.create(name="Join shoulders", **step)
    page = page_of(maker_client, tee)
    assert 'value="join shoulders 2"' in page
    answers = shown(page)
    for row in PieceOutline.objects.filter(piece__style=tee, piece__name="short sleeve"):
        row.shape = json.loads(json.dumps(row.shape).replace("sleeve head", "cap"))
        row.save()
    late = maker_client.post(reverse(URL, args=["310"]), answers)
    assert (late.status_code, tee.seams.count()) == (409, 0)
    assert "what is proposed now stands below. Nothing was made yet." in late.content.decode()
    assert make_them(maker_client, tee).status_code == 302
    names = [name.casefold() for name in tee.operations.values_list("name", flat=True)]
    assert len(set(names)) == len(names) == 13


def test_what_somebody_made_meanwhile_is_refused_as_a_whole(tee):
    asked = [ConfirmedStep(["1 1 front: shoulder; 2 1 back: shoulder"], name="join", machine="overlock")]
    assert isinstance(actions.make_proposed(tee, asked), actions.Done)
    assert isinstance(actions.make_proposed(tee, asked), actions.Refused)
    assert (tee.seams.count(), tee.operations.count()) == (1, 1)


def test_two_pieces_for_one_opening_start_unticked(maker_client, tee):
    tee.pieces.update(option=None)
    page = page_of(maker_client, tee)
    assert "4 of them to be looked at first" in page
    boxes, answers = ticks(page), shown(page)
    assert boxes["Self neck band"] not in answers
    assert boxes["Shoulder"] in answers


def test_a_style_built_on_it_gets_seams_of_its_own_pieces(maker_client, tee):
    assert make_them(maker_client, tee).status_code == 302
    built = make.make_built_on(tee, "311")
    own = built.details.create(name="pocket").options.create(name="patch")
    pocket = built.pieces.create(name="patch pocket", role=tee.roles.get(name="body"), option=own)
    actions.keep_outlines(pocket, {s: patch_pocket() for s in tee.size_range.sizes.all()})
    assert make_them(maker_client, built).status_code == 302
    assert sorted(built.seams.values_list("name", "option__name", "operation__name")) == [
        ("patch pocket", "patch", "set the pockets"),
        ("patch pocket opening", "patch", "hem the pockets"),
    ]
    assert tee.seams.count() == 15


def patch_pocket() -> Outline:
    return rectangle(140, 120, ("pocket edge", "opening", "pocket edge", "bottom"))


def test_the_constructions_lack_no_seam_that_would_be_sure(maker_client):
    """Every construction is sewn already; what is still proposed there is nothing that is sewn twice."""
    style = make_swap_top()
    spec = style_specs([style])["160"]
    sewn = {(ref.piece, ref.edge) for seam in spec.seams for ref in seam.edges}
    for one in propose_seams(spec):
        assert any((ref.piece, ref.edge) not in sewn for ref in one.seam.edges), one


def test_helpers_see_no_proposals(helper_client, tee):
    assert helper_client.get(reverse(URL, args=["310"])).status_code in (302, 403)
    assert "Propose seams" not in helper_client.get(reverse("style-detail", args=["310"])).content.decode()


def test_the_seams_of_a_style_offer_them_without_any_operation(maker_client, tee):
    page = maker_client.get(reverse("style-detail", args=["310"])).content.decode()
    assert reverse(URL, args=["310"]) in page


def test_a_style_without_edges_that_tell_says_what_to_do(maker_client):
    style = actions.new_style(
        number="120", name="bare", sizes=["S", "M"], base_size="M", roles=["body"], for_children=False
    )
    assert "No seam can be told from the edges yet." in page_of(maker_client, style)
