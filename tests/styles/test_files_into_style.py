"""Pattern files brought into a style that is there."""

from __future__ import annotations

import io
import re
from decimal import Decimal
from pathlib import Path

import ezdxf
import pytest
from django.conf import settings
from pytest_django import DjangoAssertNumQueries

from planner.core.outline import outline_from_json
from planner.cutting.stored import planned_batch
from planner.styles.models import ClothRole, PatternFile, Piece, PieceOutline, Style
from tests import factories as make
from tests.sewing.makers import make_planned_batch
from tests.styles import pattern_files as files
from tests.styles.bringing import page_of, review, stored, take, text_of

pytestmark = pytest.mark.django_db


# --- into a style that is there ------------------------------------------------------------------------------


def test_a_corrected_file_shows_what_changes_and_replaces_only_what_is_ticked(maker_client, style) -> None:
    address = review(maker_client, style, files.top(longer_mm=8, pieces=("front", "cuff")))
    page = page_of(maker_client, address)
    assert "2 pieces in 3 sizes" in page
    front = style.pieces.get(name="front")
    old = {row.size.name: row.area_mm2 for row in front.outlines.select_related("size")}
    # 8 mm more of a body 500 mm wide are 40 cm².
    areas = f"{old['S'] / 100:,.1f} → {old['S'] / 100 + 40:,.1f}".replace(",", "\u2009")
    assert areas in page
    assert "60\u2009cm → 60.8\u2009cm" in page
    assert "Not in this file, and left as they are: back, self neck band, rib neck band." in page
    data = files.filled_in(page)
    assert data["p0-sizes"] == ["S", "M", "L"]
    answer = take(maker_client, address, included="yes", p0_sizes=["M"], p1_role="rib", p1_count=2)
    assert "top.dxf is taken over: 1 new piece, 4 outlines." in text_of(answer)
    new = {row.size.name: row.area_mm2 for row in front.outlines.select_related("size")}
    assert new["M"] == pytest.approx(old["M"] + 8 * 525)
    assert (new["S"], new["L"]) == (old["S"], old["L"])
    cuff = style.pieces.get(name="cuff")
    assert (cuff.role.name, cuff.count, cuff.outlines.count()) == ("rib", 2, 3)


def test_edge_names_and_allowances_given_earlier_survive(maker_client, style) -> None:
    front = style.pieces.get(name="front")
    for row in front.outlines.all():
        row.shape["edges"] = [[f"my {name}", start] for name, start in row.shape["edges"]]
        row.save()
    front.seam_allowance_mm, front.edge_allowances = Decimal("9"), {"my hem": 20.0}
    front.save()
    named = set(outline_from_json(front.outlines.first().shape).edge_lengths_mm())
    take(maker_client, review(maker_client, style, files.top(longer_mm=8, pieces=("front",))), included="yes")
    front.refresh_from_db()
    assert (front.seam_allowance_mm, front.edge_allowances) == (Decimal("9"), {"my hem": 20.0})
    shape = outline_from_json(front.outlines.get(size__name="M").shape)
    assert set(shape.edge_lengths_mm()) == named
    assert shape.edge_length_mm("my left side") == pytest.approx(615 + 8, abs=0.1)
    # The seams of the style find their edges still.
    assert shape.edge_length_mm("my neckline") == pytest.approx(
        outline_from_json(front.outlines.get(size__name="M").shape).edge_length_mm("my neckline")
    )


def test_a_piece_of_the_style_grows_by_its_own_allowances(maker_client, style) -> None:
    front = style.pieces.get(name="front")
    front.seam_allowance_mm, front.edge_allowances = Decimal("10"), {"hem": 25.0}
    front.save()
    address = review(maker_client, style, files.top(pieces=("front",)))
    assert 'name="allowance"' not in page_of(maker_client, address)
    # The first page compares lines as drawn; whoever says they are sewing lines looks once more.
    second = take(maker_client, address, included="no")
    assert second.status_code == 422
    assert "look at the sizes below once more" in text_of(second)
    done = maker_client.post(address, files.filled_in(text_of(second)), follow=True)
    assert "3 outlines" in text_of(done)
    # 10 mm at either side; 25 mm at the hem and 10 at the shoulders.
    assert stored(front)["M"] == (615 + 25 + 10, 525 + 20)


def test_an_unchanged_file_changes_nothing(maker_client, style) -> None:
    take(maker_client, review(maker_client, style, files.top(pieces=("front",))), included="yes")
    before = list(PieceOutline.objects.order_by("pk").values("pk", "shape", "source"))
    address = review(maker_client, style, files.top(pieces=("front",)), "again.dxf")
    assert "all as the style has them already" in page_of(maker_client, address)
    answer = take(maker_client, address)
    assert "again.dxf is looked through; no outline of the style was changed." in text_of(answer)
    assert list(PieceOutline.objects.order_by("pk").values("pk", "shape", "source")) == before


def test_one_corrected_size_leaves_the_others_of_its_piece_as_they_are(maker_client, db) -> None:
    """The sizes of a piece share an origin; a longer one shifts it, and with it marks that did not change."""
    file = Path(settings.BASE_DIR) / "fixtures" / "patterns" / "110-plover-tee.dxf"
    options = {"p3_option": "neck: self band", "p5_option": "sleeve: short"}
    take(maker_client, review(maker_client, None, file.read_bytes()), **options)
    drawing = ezdxf.readfile(file)
    for line in drawing.blocks["front_L"].query("POLYLINE"):
        for vertex in line.vertices:
            x, y, z = vertex.dxf.location
            # The hem of the cut line lies at -20, that of the sewing line at 0.
            if abs(x - (-20.0 if line.dxf.layer == "1" else 0.0)) < 0.1:
                vertex.dxf.location = (x - 25, y, z)
    corrected = io.StringIO()
    drawing.write(corrected)
    address = review(maker_client, Style.objects.get(number="200"), corrected.getvalue().encode())
    page = page_of(maker_client, address)
    assert "1 outline would change" in page
    assert files.filled_in(page)["p0-sizes"] == ["L"]
    rows = re.findall(r"<th scope=\"row\">(?:<input[^>]*><label[^>]*>)?(X*[SML])<", page)
    assert rows == ["XS", "S", "M", "L", "XL", "XXL"]


def test_answers_are_remembered_for_the_next_file_of_the_style(maker_client, style) -> None:
    first = review(maker_client, style, files.top(pieces=("front", "back", "cuff")))
    seen = take(maker_client, first, included="no", p2_name="sleeve cuff", p1_take=None)
    assert seen.status_code == 422
    assert "is taken over" in text_of(maker_client.post(first, files.filled_in(text_of(seen)), follow=True))
    data = files.filled_in(
        page_of(maker_client, review(maker_client, style, files.top(pieces=("back", "cuff")), "next.dxf"))
    )
    assert data["included"] == ["no"]
    assert data["p1-name"] == ["sleeve cuff"]
    assert data["p1-into"][0].split()[0] == str(style.pieces.get(name="sleeve cuff").pk)
    assert "p0-take" not in data


def test_sizes_called_alike_are_the_same_and_others_are_asked(maker_client, style) -> None:
    address = review(maker_client, style, files.top(("s", "M", "42"), pieces=("cuff",)))
    page = page_of(maker_client, address)
    assert page.count('<select name="size-') == 1
    assert "“42” of the file is" in page
    answer = take(maker_client, address, included="yes")
    assert "Choose a size, or leave it out." in text_of(answer)
    take(maker_client, address, included="yes", size_2="L")
    assert sorted(stored(style.pieces.get(name="cuff"))) == ["L", "M", "S"]


def test_a_size_the_style_lacks_can_be_left_out(maker_client, style) -> None:
    address = review(maker_client, style, files.top(("S", "M", "L", "XL"), pieces=("cuff",)))
    take(maker_client, address, included="yes", size_3="-")
    assert sorted(stored(style.pieces.get(name="cuff"))) == ["L", "M", "S"]


def test_two_sizes_cannot_become_one(maker_client, style) -> None:
    address = review(maker_client, style, files.top(("S", "36", "38"), pieces=("cuff",)))
    answer = take(maker_client, address, included="yes", size_1="M", size_2="M")
    assert answer.status_code == 422
    assert "M would then be two sizes of the file" in text_of(answer)
    assert not style.pieces.filter(name="cuff").exists()


def test_a_style_without_outlines_takes_the_sizes_of_the_file(maker_client, bare) -> None:
    address = review(maker_client, bare, files.top(("36", "38", "40"), sample_size="38"))
    assert "Take those of the file: 36 38 40" in page_of(maker_client, address)
    take(maker_client, address, included="yes")
    bare.refresh_from_db()
    assert [size.name for size in bare.size_range.sizes.all()] == ["36", "38", "40"]
    assert bare.base_size.name == "38"
    assert PieceOutline.objects.filter(piece__style=bare).count() == 9


def test_sizes_of_the_file_are_not_taken_where_a_notion_is_of_one_that_goes(maker_client, bare) -> None:
    label = make.make_notion_colour("care label")
    notion = bare.notions.create(notion_colour=label, size=bare.size_range.sizes.get(name="S"))
    address = review(maker_client, bare, files.top(("36", "38", "40"), sample_size="38"))
    answer = take(maker_client, address, included="yes")
    assert answer.status_code == 409
    assert "care label of style 120 is taken in S only" in text_of(answer)
    assert not bare.pieces.exists()
    # A file that has the size too takes the notion along.
    address = review(maker_client, bare, files.top(("XS", "S", "M", "L"), sample_size="M"))
    take(maker_client, address, included="yes", take_sizes="file")
    bare.refresh_from_db()
    notion.refresh_from_db()
    assert [size.name for size in bare.size_range.sizes.all()] == ["XS", "S", "M", "L"]
    assert notion.size == bare.size_range.sizes.get(name="S")


def test_a_style_without_outlines_may_keep_its_own_sizes(maker_client, bare) -> None:
    address = review(maker_client, bare, files.top(("36", "38", "40")))
    look = maker_client.post(
        address, files.filled_in(page_of(maker_client, address), take_sizes="style", look="1")
    )
    data = files.filled_in(text_of(look), included="yes", size_0="S", size_1="M", size_2="-")
    maker_client.post(address, data)
    bare.refresh_from_db()
    assert [size.name for size in bare.size_range.sizes.all()] == ["S", "M", "L"]
    assert sorted(stored(bare.pieces.get(name="front"))) == ["M", "S"]


def test_a_file_of_one_size_is_recognised_by_its_name(maker_client, style) -> None:
    address = review(maker_client, style, files.svg(files.rectangle()), "pocket-L.svg")
    assert files.filled_in(page_of(maker_client, address))["size-0"] == ["L"]


def test_pieces_of_an_option_and_a_new_role(maker_client, style) -> None:
    rib_band = style.details.get().options.get(name="rib band")
    address = review(maker_client, style, files.top(pieces=("cuff",)))
    take(maker_client, address, included="yes", p0_role="cuff rib", p0_option="Neck: rib  band")
    cuff = style.pieces.get(name="cuff")
    assert cuff.option == rib_band
    assert [role.name for role in ClothRole.objects.filter(style=style)] == ["body", "rib", "cuff rib"]


def test_a_piece_that_is_renamed_on_the_page_is_looked_at_again(maker_client, style) -> None:
    address = review(maker_client, style, files.top(longer_mm=8, pieces=("cuff",)))
    second = take(maker_client, address, included="yes", p0_name="Back")
    assert second.status_code == 422
    assert "look at what changes, then take it over" in text_of(second)
    assert "What changes" in text_of(second)
    maker_client.post(address, files.filled_in(text_of(second)))
    assert not style.pieces.filter(name="cuff").exists()
    assert stored(style.pieces.get(name="back"))["S"] == (60, 200)


WRONG_ANSWERS = (
    ({"p1_name": "front"}, "front and back cannot both become front."),
    ({"p0_name": "", "p0_count": "0"}, "Please fill this in.", "at least 1"),
    ({"p0_name": "n" * 61, "p0_count": "two"}, "At most 60 letters", "“two” is not"),
    ({"p0_role": ""}, "Please fill this in."),
    ({"allowance": "11 cm"}, "at most"),
    ({"allowance": "wide"}, "“wide” is not"),
    ({"included": "perhaps"}, "Please choose one of the list."),
    ({"p0_take": None, "p1_take": None, "p2_take": None}, "No piece is ticked"),
    ({"number": ""}, "Please fill this in."),
)


def test_a_wrong_answer_is_told_at_its_place_and_nothing_is_taken(maker_client) -> None:
    address = review(maker_client, None, files.top())
    page = page_of(maker_client, address)
    for answers, *said in WRONG_ANSWERS:
        answer = maker_client.post(address, files.filled_in(page, **{"included": "yes", **answers}))
        assert answer.status_code == 422, answers
        for words in said:
            assert words in text_of(answer), words
        assert not Style.objects.exists()
        assert PatternFile.objects.get().taken_at is None


def test_what_is_left_out_is_not_taken_and_need_not_be_answered(maker_client) -> None:
    address = review(maker_client, None, files.top())
    take(maker_client, address, included="yes", p1_take=None, p2_take=None)
    assert [piece.name for piece in Piece.objects.all()] == ["front"]


# --- batches -------------------------------------------------------------------------------------------------


def test_a_planned_batch_keeps_the_outlines_it_was_planned_with(maker_client, style) -> None:
    order = make.make_order([(style, {"neck": "rib band"}, "ink", {"M": 2})])
    batch = make_planned_batch(order)
    before = planned_batch(batch)
    take(maker_client, review(maker_client, style, files.top(longer_mm=80)), included="yes")
    assert stored(style.pieces.get(name="front"))["M"] == (695, 525)
    after = planned_batch(batch)
    lengths = [
        piece.outlines["M"].length_mm for piece in after.shop.styles["110"].pieces if piece.name == "front"
    ]
    assert lengths == [pytest.approx(615)]
    assert after == before


# --- quick ---------------------------------------------------------------------------------------------------


def test_queries_of_the_review_do_not_grow_with_the_file(
    maker_client, style, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    small = review(maker_client, style, files.top(pieces=("front",)), "small.dxf")
    large = review(maker_client, style, files.top(pieces=("front", "back", "neck band", "cuff")), "large.dxf")
    for address in (small, large):
        maker_client.get(address)
        with django_assert_num_queries(13):
            maker_client.get(address)


def test_a_file_is_read_once_for_many_answers(maker_client, style, monkeypatch) -> None:
    from planner.styles import reviewing_known

    calls = []
    real = reviewing_known.read_pattern
    monkeypatch.setattr(
        reviewing_known, "read_pattern", lambda *args, **kwargs: calls.append(1) or real(*args, **kwargs)
    )
    address = review(maker_client, style, files.top(longer_mm=3.25), "once.dxf")
    for _ in range(3):
        maker_client.get(address)
    assert len(calls) == 1
