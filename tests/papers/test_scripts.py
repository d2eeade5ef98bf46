"""Names in any script print: no letter falls to an empty box, and right-to-left text stands the right way round."""

from __future__ import annotations

import io
import unicodedata

import pypdfium2
import pytest
from reportlab.pdfgen.canvas import Canvas

from planner.papers import typefaces
from planner.papers.data import Heading
from planner.papers.sheet import Column, Sheet
from planner.papers.typefaces import as_printed, clean, draw_text, runs, width_of, wrap

#: "Cloth" or the like in each script, invented shop names beside it.
NAMES = {
    "Greek": "Ύφασμα",
    "Cyrillic": "Ткань Ёлка",
    "Polish": "Szwalnia Żółć",
    "Vietnamese": "Vải dệt kim",
    "Thai": "ร้านเสื้อ",
    "Lao": "ຜ້າ",
    "Khmer": "ក្រណាត់",
    "Devanagari": "कपड़ा",
    "Bengali": "কাপড়",
    "Tamil": "துணி",
    "Telugu": "వస్త్రం",
    "Gujarati": "કાપડ",
    "Gurmukhi": "ਕੱਪੜਾ",
    "Kannada": "ಬಟ್ಟೆ",
    "Malayalam": "തുണി",
    "Sinhala": "රෙදි",
    "Myanmar": "အထည်",
    "Ethiopic": "ጨርቅ",
    "Armenian": "Կտոր",
    "Georgian": "ქსოვილი",
    "Hebrew": "בד ירוק",
    "Arabic": "قماش",
    "Japanese": "布地",
    "Korean": "옷감",
    "Chinese": "布料",
}


@pytest.mark.parametrize("script", NAMES)
def test_every_letter_has_a_shape(script: str) -> None:
    from planner.papers.typefaces import _font

    for name, part in runs(NAMES[script]):
        missing = [letter for letter in part if ord(letter) not in _font(name).face.charToGlyph]
        assert not missing, (script, name, missing)
    assert width_of(NAMES[script], 10) > 0


def test_hebrew_is_printed_from_right_to_left_and_figures_are_not() -> None:
    assert as_printed("בד 12") == "12 דב"
    assert as_printed("Order O-12, בד") == "Order O-12, דב"


def test_counts_stay_with_their_names() -> None:
    """Left to itself the bidirectional algorithm prints "2 × B × 1 ,A" for two names from the right."""
    assert as_printed("2 × בד, 1 × ירוק") == "2 × דב, 1 × קורי"
    assert as_printed("ink · בד · 3 × אדום; 12 × כחול") == "ink · דב · 3 × םודא; 12 × לוחכ"
    assert as_printed("110 בד") == "110 דב"
    assert as_printed("בד, ירוק") == "קורי ,דב"


def test_arabic_letters_are_joined() -> None:
    printed = as_printed("قماش")
    # Joined forms stand in Unicode's block of Arabic presentation forms; the first letter is printed last.
    assert all("\ufe70" <= letter <= "\ufeff" for letter in printed)
    assert printed[-1] == "\ufed7"


def drawn(text: str, size: float = 40) -> tuple[bytes, tuple[int, int, int, int]]:
    """A page of 400 × 100 points with the text at 20, 40, and the box of its ink in points."""
    file = io.BytesIO()
    canvas = Canvas(file, pagesize=(400, 100), invariant=1)
    draw_text(canvas, 20, 40, text, size)
    canvas.save()
    page = pypdfium2.PdfDocument(file.getvalue())[0].render(scale=1).to_pil().convert("L")
    box = page.point(lambda grey: 255 if grey < 128 else 0).getbbox()
    assert box
    return file.getvalue(), box


def test_a_hindi_vowel_stands_before_its_letter_and_a_conjunct_is_one_shape() -> None:
    """The Unicode Standard, chapter 12 (Devanagari): vowel sign I is written left of the whole cluster."""
    ((_, ki),) = runs("कि")
    ((_, ka),) = runs("क")
    assert ki[-1] == ka[0], "the letter comes last"
    assert ki[0] != ka[0]
    ((_, ksha),) = runs("क्ष")
    assert len(ksha) == 1, "three letters make one glyph"
    assert width_of("क्ष", 10) < width_of("क", 10) + width_of("ष", 10)


def test_a_tamil_vowel_in_two_parts_stands_on_both_sides() -> None:
    """The Unicode Standard, chapter 12 (Tamil): vowel sign O goes round its letter."""
    ((_, ko),) = runs("கொ")
    ((_, ka),) = runs("க")
    assert len(ko) == 3
    assert ko[1] == ka[0]


@pytest.mark.parametrize("text", ["हिन्दी", "ผ้าฝ้ายสีน้ำเงิน", "কোর্তা", "கொடி", "ស្រី", "فستان", "בד"])
def test_the_ink_is_as_wide_as_measured(text: str) -> None:
    _, (left, _, right, _) = drawn(text)
    width = width_of(text, 40)
    assert left >= 20 - 4
    assert right <= 20 + width + 4
    assert right - left >= width * 0.85


@pytest.mark.parametrize(
    "script", ["Thai", "Devanagari", "Bengali", "Tamil", "Telugu", "Khmer", "Myanmar", "Hebrew"]
)
def test_text_is_copied_as_it_was_typed(script: str) -> None:
    paper, _ = drawn(NAMES[script])
    assert NAMES[script] in pypdfium2.PdfDocument(paper)[0].get_textpage().get_text_bounded()


def test_what_was_printed_before_does_not_change_the_bytes() -> None:
    def afresh() -> None:
        for kept in (typefaces._font, typefaces._unit_width, runs):
            kept.cache_clear()

    afresh()
    first, _ = drawn("हिन्दी")
    afresh()
    drawn("क्षत्रिय शर्ट श्री")
    assert drawn("हिन्दी")[0] == first


@pytest.mark.parametrize("name", ["हिन्दीक्षत्रियशर्टप्रिंट" * 8, "ผ้าฝ้ายสีน้ำเงินกี่ญี่ปุ่น" * 8, "கொடிசௌகரியம்" * 8])
def test_a_long_name_is_broken_between_whole_letters(name: str) -> None:
    lines = wrap(name, 10, 120)
    assert "".join(lines) == clean(name)
    assert len(lines) > 2
    for line in lines:
        assert width_of(line, 10) <= 120
        assert unicodedata.category(line[0]) not in ("Mn", "Mc"), "a mark is not parted from its letter"
        assert line[-1] not in "เแโใไ", "nor a vowel from the letter after it"


def test_joiners_stay_where_they_shape_a_letter() -> None:
    assert clean("ශ්\u200dරී") == "ශ්\u200dරී"
    assert clean("می\u200cخواهم") == "می\u200cخواهم"
    assert clean("jer\u200dsey\u202e") == "jersey"
    assert len(runs("ශ්\u200dරී")) == 1


def test_a_workroom_of_many_scripts_fits_its_paper() -> None:
    sheet = Sheet(
        Heading(" ".join(NAMES.values()), "B-0007", "3 March 2026", "20 March 2026"), "Cut sheet", "A4"
    )
    sheet.title([("due", NAMES["Thai"])])
    sheet.table([Column("Cloth", 1), Column("Colour", 1)], [(name, name) for name in NAMES.values()])
    assert len(pypdfium2.PdfDocument(sheet.finish())) == 1


@pytest.mark.parametrize("text", ["", "ink jersey", "Ткань", "布地", "B-0007 ×12"])
def test_other_text_is_left_alone(text: str) -> None:
    assert as_printed(text) == text


def test_the_letters_are_really_drawn() -> None:
    file = io.BytesIO()
    canvas = Canvas(file, pagesize=(300, 40 * len(NAMES)))
    for n, name in enumerate(NAMES.values()):
        draw_text(canvas, 10, 40 * n + 10, name, 20)
    canvas.save()
    page = pypdfium2.PdfDocument(file.getvalue())[0].render(scale=1).to_pil().convert("L")
    for n, script in enumerate(reversed(NAMES)):
        strip = page.crop((0, 40 * n, 300, 40 * n + 40))
        assert strip.getextrema()[0] < 100, f"nothing is printed for {script}"
