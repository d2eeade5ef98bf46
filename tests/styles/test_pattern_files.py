"""Pattern files brought in, looked through and taken over."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import ezdxf
import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from planner.core.outline import outline_from_json
from planner.core.pattern_files.model import MOST_BYTES, marks_from_json
from planner.cutting.stored import planned_batch
from planner.styles import actions
from planner.styles.models import ClothRole, PatternFile, Piece, PieceOutline, SizeRange, Style
from tests import factories as make
from tests.core.pattern_makers import DxfFile, PieceBlock, edges_of, rectangle, rules_file, text
from tests.sewing.makers import make_planned_batch
from tests.styles import pattern_files as files

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}
NOON = datetime(2031, 5, 12, 12, 0, tzinfo=UTC)
TODAY = date(2031, 5, 12)


@pytest.fixture
def style(db) -> Style:
    """S, M, L; front, back and two bands with outlines; roles body and rib."""
    return make.make_style("110", sizes="S M L")


@pytest.fixture
def bare(db) -> Style:
    """A style in S, M, L without pieces."""
    return actions.new_style(
        number="120", name="bare", sizes=["S", "M", "L"], base_size="M", roles=["body"], for_children=False
    )


def text_of(response) -> str:
    return response.content.decode()


def bring(client: Client, style: Style | None, *uploads, **told):
    """The answer to files chosen in the form."""
    if style is None:
        address, data = reverse("style-from-file"), {"number": "200", "name": "box top", **told}
    else:
        address, data = reverse("files-hold", args=[style.number]), told
    return client.post(address, {**data, "files": list(uploads)})


def review(client: Client, style: Style | None, content: bytes, name: str = "top.dxf", **told) -> str:
    """Brings a file in; the address of its review."""
    answer = bring(client, style, files.upload(content, name), **told)
    assert answer.status_code == 302
    return answer["Location"]


def page_of(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return text_of(answer)


def take(client: Client, address: str, **answers):
    """Answers the review as it stands on the page, with some answers changed, and takes it over."""
    return client.post(address, files.filled_in(page_of(client, address), **answers), follow=True)


def stored(piece: Piece) -> dict[str, tuple[float, float]]:
    rows = piece.outlines.select_related("size")
    shapes = {row.size.name: outline_from_json(row.shape) for row in rows}
    return {
        size: (pytest.approx(s.length_mm, abs=0.01), pytest.approx(s.width_mm, abs=0.01))
        for size, s in shapes.items()
    }


# --- a new style from a file ------------------------------------------------------------------------------


def test_a_style_is_made_from_a_file_and_nothing_before_that(maker_client) -> None:
    address = review(maker_client, None, files.top(("S", "L", "M")))
    page = page_of(maker_client, address)
    assert not Style.objects.exists()
    assert not SizeRange.objects.exists()
    assert "3 pieces in 3 sizes" in page
    # Sizes of a file come in any order; on the page they stand from small to large.
    assert page.index('scope="col" class="num">S<') < page.index('scope="col" class="num">M<')
    answer = take(maker_client, address, included="yes")
    assert "200 box top is made from top.dxf: 3 new pieces, 9 outlines." in text_of(answer)
    made = Style.objects.get()
    assert [size.name for size in made.size_range.sizes.all()] == ["S", "L", "M"]
    assert made.base_size.name == "M"
    front = made.pieces.get(name="front")
    # The maker's fixture grows with the place of the size in the file: S is the smallest, M the largest.
    assert stored(front) == {"S": (600, 500), "L": (615, 525), "M": (630, 550)}
    assert (front.role.name, front.count, front.pair, front.seam_allowance_mm) == ("body", 1, False, 7)
    row = front.outlines.get(size__name="S")
    assert row.source.startswith("top.dxf, ")
    assert not row.is_interpolated
    assert len(marks_from_json(row.marks).notches) == 2
    file = PatternFile.objects.get()
    assert (file.style, bytes(file.content)) == (made, b"")


def test_what_the_file_answers_is_not_asked(maker_client) -> None:
    address = review(maker_client, None, files.top(counts={"front": 1, "back": 1, "neck band": 2}))
    page = page_of(maker_client, address)
    assert 'name="units"' not in page
    assert 'name="size-0"' not in page
    assert 'name="p0-count"' not in page
    assert "cut 2, all alike" in page
    assert 'name="included"' in page
    take(maker_client, address, included="yes")
    assert Piece.objects.get(name="neck band").count == 2


def test_a_file_without_an_answer_about_the_allowance_is_not_taken(maker_client) -> None:
    address = review(maker_client, None, files.top())
    answer = take(maker_client, address)
    assert answer.status_code == 422
    assert "Choose one: the file does not say." in text_of(answer)
    assert not Style.objects.exists()


def test_the_allowance_is_added_where_the_file_holds_sewing_lines(maker_client) -> None:
    address = review(maker_client, None, files.svg(files.rectangle("pocket", 120, 140)), "pocket.svg")
    take(maker_client, address, included="no", allowance="1 cm", size_0="one")
    row = PieceOutline.objects.get()
    # 10 mm on every side of 120 by 140 mm; upright, so 140 lies along the grain.
    shape = outline_from_json(row.shape)
    assert (shape.length_mm, shape.width_mm) == (pytest.approx(160), pytest.approx(140))
    assert row.area_mm2 == pytest.approx(160 * 140)
    assert row.piece.seam_allowance_mm == Decimal("10")
    # The line that was drawn stays as the sewing line.
    sewn = marks_from_json(row.marks).sew_lines[0]
    assert max(x for x, _ in sewn) - min(x for x, _ in sewn) == pytest.approx(140)


def test_sizes_of_a_file_that_are_a_range_already_are_that_range(maker_client) -> None:
    there = make.make_size_range("S M L")
    take(maker_client, review(maker_client, None, files.top()), included="yes")
    assert Style.objects.get().size_range == there


def test_number_and_name_of_a_new_style_are_checked_again_when_it_is_taken(maker_client, style) -> None:
    address = review(maker_client, None, files.top())
    answer = take(maker_client, address, included="yes", number="110")
    assert answer.status_code == 422
    assert "There is a style with this number already: 110 box top." in text_of(answer)
    assert Style.objects.count() == 1


# --- units and scale --------------------------------------------------------------------------------------


def without_units(content: bytes) -> bytes:
    return content.replace(b"Units: METRIC", b"Remark: none")


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_units_are_asked_with_what_follows_from_them(maker_client, headers) -> None:
    address = review(maker_client, None, without_units(files.top(("S", "M"))))
    page = page_of(maker_client, address)
    assert "millimetres: back M would be 61.5\u2009cm long" in page
    # 615 in = 15.62 m (1 in = 25.4 mm exactly, NIST SP 811).
    assert "inches: back M would be 15.62\u2009m long" in page
    seen = maker_client.post(address, files.filled_in(page, units="in", look="1"), headers=headers)
    assert seen.status_code == 200
    assert ("<html" in text_of(seen)) is not bool(headers)
    assert "▲" not in text_of(seen)
    assert PatternFile.objects.get().taken_at is None
    answer = maker_client.post(address, files.filled_in(page, included="yes"))
    assert answer.status_code == 422
    take(maker_client, address, units="mm", included="yes")
    assert stored(Piece.objects.get(name="front"))["M"] == (615, 525)


def test_the_scale_of_a_drawing_without_units_is_checked_by_a_length(maker_client) -> None:
    drawing = files.svg(files.rectangle("pocket", 120, 140), size='width="600" height="600"')
    address = review(maker_client, None, drawing, "pocket.svg")
    page = page_of(maker_client, address)
    # 140 px at 96 to the inch (CSS Values 4) are 37.04 mm.
    assert "pocket is 3.7\u2009cm long: that is right" in page
    answer = take(maker_client, address, included="yes", size_0="one")
    assert answer.status_code == 422
    assert "Tick it if the length is right, or type the true one." in text_of(answer)
    take(maker_client, address, included="yes", size_0="one", true_length="14 cm")
    assert stored(Piece.objects.get())["one"] == (140, 120)


def test_a_piece_without_grain_is_turned_if_it_does_not_run_upright(maker_client) -> None:
    drawing = files.svg(files.rectangle("pocket", 120, 140))
    address = review(maker_client, None, drawing, "pocket.svg")
    assert "The file draws no grain." in page_of(maker_client, address)
    take(maker_client, address, included="yes", size_0="one", grain="across")
    assert stored(Piece.objects.get())["one"] == (120, 140)
    # The next file of the style starts from that answer; as nothing differs, nothing changes.
    again = page_of(maker_client, review(maker_client, Style.objects.get(), drawing, "pocket.svg"))
    assert re.search(
        r'name="grain"[^>]*value="across"[^>]*checked|value="across"[^>]*name="grain"[^>]*checked', again
    )
    # A file that draws its grain is not asked.
    assert 'name="grain"' not in page_of(maker_client, review(maker_client, None, files.top(), number="201"))


# --- into a style that is there ---------------------------------------------------------------------------


def test_a_corrected_file_shows_what_changes_and_replaces_only_what_is_ticked(maker_client, style) -> None:
    address = review(maker_client, style, files.top(longer_mm=8, pieces=("front", "cuff")))
    page = page_of(maker_client, address)
    assert "2 pieces in 3 sizes" in page
    front = style.pieces.get(name="front")
    old = {row.size.name: row.area_mm2 for row in front.outlines.select_related("size")}
    # 8 mm more of a body 500 mm wide are 40 cm².
    assert f"{old['S'] / 100:,.1f} → {old['S'] / 100 + 40:,.1f}" in page
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


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        ({"p1_name": "front"}, "front and back cannot both become front."),
        ({"p0_name": ""}, "Please fill this in."),
        ({"p0_name": "n" * 61}, "At most 60 letters"),
        ({"p0_count": "0"}, "at least 1"),
        ({"p0_count": "two"}, "two"),
        ({"p0_role": ""}, "Please fill this in."),
        ({"allowance": "11 cm"}, "at most"),
        ({"allowance": "wide"}, "wide"),
        ({"included": "perhaps"}, "Please choose one of the list."),
        ({"p0_take": None, "p1_take": None, "p2_take": None}, "No piece is ticked"),
        ({"number": ""}, "Please fill this in."),
    ],
)
def test_a_wrong_answer_is_told_at_its_place_and_nothing_is_taken(maker_client, answers, words) -> None:
    address = review(maker_client, None, files.top())
    answer = take(maker_client, address, **{"included": "yes", **answers})
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert not Style.objects.exists()
    assert PatternFile.objects.get().taken_at is None


def test_what_is_left_out_is_not_taken_and_need_not_be_answered(maker_client) -> None:
    address = review(maker_client, None, files.top())
    take(maker_client, address, included="yes", p1_take=None, p2_take=None)
    assert [piece.name for piece in Piece.objects.all()] == ["front"]


# --- mends ------------------------------------------------------------------------------------------------


OPEN = '<g id="pocket"><path d="M10 10H130V150H10V13.5" fill="none"/></g>'


def test_a_mend_is_shown_and_only_taken_when_it_is_confirmed(maker_client) -> None:
    address = review(maker_client, None, files.svg(OPEN), "pocket.svg")
    page = page_of(maker_client, address)
    assert 'class="mend"' in page
    assert "3.5 mm" in page
    answer = take(maker_client, address, included="yes", size_0="one")
    assert answer.status_code == 422
    assert "Look at the marked place and tick this, or leave the piece out." in text_of(answer)
    take(maker_client, address, included="yes", size_0="one", p0_mend="on")
    assert Piece.objects.get().name == "pocket"


# --- bad files --------------------------------------------------------------------------------------------


def zipped() -> bytes:
    box = io.BytesIO()
    with zipfile.ZipFile(box, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("top.dxf", b"0" * 5_000_000)
    return box.getvalue()


RULES = b"ASTM/D13Proposal 1 Version: D 6673-04\nAUTHOR: none\nUNITS: METRIC\nGRADE RULE TABLE: t\n"
BAD = {
    "empty": ("top.dxf", b""),
    "blank": ("top.dxf", b"\n\n  \n"),
    "truncated": ("top.dxf", files.top()[:700]),
    "binary": ("top.dxf", bytes(range(256)) * 40),
    "binary drawing": ("top.dxf", b"AutoCAD Binary DXF\r\n\x1a\x00" + bytes(200)),
    "wrong extension": ("top.dxf", b"%PDF-1.7\n1 0 obj\n"),
    "a picture": ("top.svg", b"\x89PNG\r\n\x1a\n" + bytes(100)),
    "zip": ("top.dxf", zipped()),
    "too large": ("top.dxf", b"0\n" * (MOST_BYTES // 2 + 1)),
    "no pieces": ("top.svg", files.svg()),
    "entities": (
        "top.svg",
        b'<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><svg xmlns="http://www.w3.org/2000/svg">&b;</svg>',
    ),
    "not closed": ("top.svg", b"<svg><g>"),
    "no number": ("top.svg", files.svg('<g id="a"><path d="M0 0LNaN 1e300L5 5Z"/></g>')),
    "rules alone": ("top.rul", RULES),
}


@pytest.mark.parametrize(("name", "content"), BAD.values(), ids=list(BAD))
@pytest.mark.parametrize("into_new", [False, True])
def test_a_file_that_cannot_be_read_is_refused_by_name_and_nothing_is_kept(
    maker_client, style, name, content, into_new
) -> None:
    before = Piece.objects.count()
    answer = bring(maker_client, None if into_new else style, files.upload(content, name))
    assert answer.status_code == 422
    page = text_of(answer)
    assert 'class="errorlist"' in page
    assert f"{name}: " in page
    assert not PatternFile.objects.exists()
    assert Piece.objects.count() == before
    if into_new:
        assert 'value="box top"' in page


def test_one_bad_file_of_several_keeps_none(maker_client, style) -> None:
    answer = bring(maker_client, style, files.upload(files.top()), files.upload(b"x", "other.dxf"))
    assert answer.status_code == 422
    assert "other.dxf: " in text_of(answer)
    assert not PatternFile.objects.exists()


def test_no_file_and_too_many_are_told(maker_client, style) -> None:
    assert "Choose a file first" in text_of(bring(maker_client, style))
    many = [files.upload(files.svg(files.rectangle()), f"p{i}.svg") for i in range(13)]
    assert "At most 12 pattern files at once" in text_of(bring(maker_client, style, *many))
    two = [files.upload(files.top(), "a.dxf"), files.upload(files.top(), "b.dxf")]
    assert "At most one pattern file at once" in text_of(bring(maker_client, None, *two))
    assert not PatternFile.objects.exists()


def test_rules_go_with_the_pattern_called_alike(maker_client, style) -> None:
    stray = [files.upload(files.top(), n) for n in ("a.dxf", "b.dxf")] + [files.upload(RULES, "c.rul")]
    assert "c.rul: no pattern file has that name" in text_of(bring(maker_client, style, *stray))


def test_a_piece_drawn_twice_in_a_size_is_told(maker_client, style) -> None:
    twice = (files.rectangle("pocket"), files.rectangle("pocket", 100, 100))
    alone = bring(maker_client, style, files.upload(files.svg(*twice), "pocket.svg"))
    assert alone.status_code == 422
    assert "pocket.svg: pocket: 2 different outlines have this name and size" in text_of(alone)
    drawing = files.svg(*twice, files.rectangle("tab", 30, 60))
    page = page_of(maker_client, review(maker_client, style, drawing, "pocket.svg"))
    assert "<strong>pocket:</strong> 2 different outlines have this name and size" in page
    assert 'value="tab"' in page
    assert 'value="pocket"' not in page


def test_a_hostile_name_is_shown_as_text(maker_client, style) -> None:
    drawing = files.svg('<g id="&lt;script&gt;alert(1)&lt;/script&gt;"><rect width="50" height="60"/></g>')
    address = review(maker_client, style, drawing, "<b>x.svg")
    assert "<script>alert" not in page_of(maker_client, address)
    assert "<b>x" not in page_of(maker_client, address)


def test_a_drawing_of_hundreds_of_shapes_is_no_pattern(maker_client, style) -> None:
    drawing = files.svg(*(files.rectangle(f"p{i}") for i in range(150)))
    answer = bring(maker_client, style, files.upload(drawing, "map.svg"))
    assert answer.status_code == 422
    assert "map.svg: it holds 150 pieces; at most 100 can be taken over." in text_of(answer)


# --- several files, several people ------------------------------------------------------------------------


def test_several_files_are_looked_through_one_after_the_other(maker_client, style) -> None:
    answer = bring(
        maker_client,
        style,
        files.upload(files.svg(files.rectangle("pocket")), "pocket-M.svg"),
        files.upload(files.svg(files.rectangle("tab", 30, 60)), "tab-M.svg"),
    )
    first, second = PatternFile.objects.order_by("pk")
    assert answer["Location"] == reverse("file-review", args=[first.pk])
    next_page = take(maker_client, answer["Location"], included="yes")
    assert next_page.redirect_chain[-1][0] == reverse("file-review", args=[second.pk])
    assert "Next: tab-M.svg." in text_of(next_page)


def test_the_same_file_is_held_once_for_one_person(maker_client, style) -> None:
    assert review(maker_client, style, files.top()) == review(maker_client, style, files.top())
    assert review(maker_client, style, files.top(longer_mm=1)) != review(maker_client, style, files.top())
    waiting = text_of(maker_client.get(reverse("files-hold", args=[style.number])))
    assert waiting.count("top.dxf</a>") == 2


def test_the_second_of_two_people_who_take_the_same_file_is_told(maker_client, style) -> None:
    address = review(maker_client, style, files.top(pieces=("cuff",)))
    data = files.filled_in(page_of(maker_client, address), included="yes")
    assert "is taken over" in text_of(maker_client.post(address, data, follow=True))
    again = maker_client.post(address, data, follow=True)
    assert "was taken over by Mira" in text_of(again)
    assert "Nothing was changed now." in text_of(again)
    assert style.pieces.filter(name="cuff").count() == 1
    assert "was taken over already" in text_of(maker_client.get(address, follow=True))


def test_taking_twice_at_the_same_moment_is_refused_by_the_action(style, maker) -> None:
    file = actions.hold_file(style, name="a.dxf", content=files.top(), person=maker, today=TODAY)
    taking = actions.Taking(pieces=[], answers={}, state=_state(style))
    assert isinstance(actions.take_over(file, taking, person=maker, today=TODAY, now=NOON), actions.Taken)
    refused = actions.take_over(file, taking, person=maker, today=TODAY, now=NOON)
    assert isinstance(refused, actions.Refused)
    assert "a.dxf was taken over by Mira at 12:00 on 12 May (UTC)" in refused.text


def _state(style: Style) -> str:
    from planner.styles.reviewing_known import known_of

    return known_of(style).state


def test_a_style_that_changed_meanwhile_is_looked_at_again(maker_client, style) -> None:
    address = review(maker_client, style, files.top(longer_mm=8, pieces=("front",)))
    data = files.filled_in(page_of(maker_client, address), included="yes")
    data["state"] = ["of another moment"]
    answer = maker_client.post(address, data)
    assert answer.status_code == 409
    assert "The style changed while you looked" in text_of(answer)
    assert not PieceOutline.objects.exclude(source="").exists()


def test_a_file_that_is_thrown_away_is_gone_and_said_so(maker_client, style) -> None:
    address = review(maker_client, style, files.top())
    file = PatternFile.objects.get()
    data = files.filled_in(page_of(maker_client, address), included="yes")
    away = maker_client.post(reverse("file-throw-away", args=[file.pk]), follow=True)
    assert "top.dxf is thrown away. Nothing was taken from it." in text_of(away)
    late = maker_client.post(address, data, follow=True)
    assert "somebody threw it away" in text_of(late)
    assert not style.pieces.filter(name="cuff").exists()


def test_a_file_that_was_taken_stays_on_record(maker_client, style) -> None:
    address = review(maker_client, style, files.top(pieces=("cuff",)))
    take(maker_client, address, included="yes")
    file = PatternFile.objects.get()
    answer = maker_client.post(reverse("file-throw-away", args=[file.pk]), follow=True)
    assert "was taken over by Mira" in text_of(answer)
    assert PatternFile.objects.count() == 1


def test_helpers_do_not_bring_files_in(helper_client, style) -> None:
    file = PatternFile.objects.create(style=style, name="a.dxf", content=files.top(), read_on=TODAY)
    for address in (
        reverse("style-from-file"),
        reverse("files-hold", args=[style.number]),
        reverse("file-review", args=[file.pk]),
    ):
        assert helper_client.get(address).status_code == 403
    assert helper_client.post(reverse("file-throw-away", args=[file.pk])).status_code == 403


# --- batches ----------------------------------------------------------------------------------------------


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


# --- quick ------------------------------------------------------------------------------------------------


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


# --- grade rules beside the pattern -----------------------------------------------------------------------


def test_a_base_size_with_its_rules_gives_all_sizes(maker_client) -> None:
    box = rectangle(300, 200)
    body = edges_of(box) + "".join(text(f"# {n}", at) for n, at in enumerate(box, 1))
    drawing = DxfFile(
        [PieceBlock(body=body)], style=["Units: METRIC", "Sample Size: M", "Grade Rule Table: TABLE1"]
    ).content()
    rules = rules_file(
        {
            1: [(0, 0), (0, 0), (0, 0)],
            2: [(-10, 0), (0, 0), (12, 0)],
            3: [(-10, -6), (0, 0), (12, 8)],
            4: [(0, -6), (0, 0), (0, 8)],
        }
    )
    answer = bring(maker_client, None, files.upload(drawing, "box.dxf"), files.upload(rules, "graded.rul"))
    assert answer.status_code == 302
    take(maker_client, answer["Location"], included="yes")
    # Worked out by hand: S is 10 mm shorter and 6 mm narrower than 300 by 200 mm, L 12 mm longer and 8 mm wider.
    assert stored(Piece.objects.get()) == {"S": (290, 194), "M": (300, 200), "L": (312, 208)}


def test_rules_of_another_file_are_refused_and_a_missing_rule_is_told(maker_client, style) -> None:
    drawing = DxfFile(
        [PieceBlock(body=edges_of(rectangle(300, 200)) + text("# 9", (0, 0)))],
        style=["Units: METRIC", "Sample Size: M", "Grade Rule Table: TABLE1"],
    ).content()

    def with_rules(table: str):
        rules = rules_file({1: [(0, 0), (0, 0), (0, 0)]}, table=table)
        return bring(maker_client, style, files.upload(drawing, "box.dxf"), files.upload(rules, "box.rul"))

    answer = with_rules("OTHER")
    assert answer.status_code == 422
    assert "box.rul: these are the rules “OTHER”, but box.dxf asks for “TABLE1”" in text_of(answer)
    assert not PatternFile.objects.exists()
    page = page_of(maker_client, with_rules("TABLE1")["Location"])
    assert "<strong>FRONT M:</strong> no rule with the number 9 in box.rul" in page
    assert "What cannot be taken as it is" in page
