"""Names in any script print: no letter falls to an empty box, and right-to-left text stands the right way round."""

from __future__ import annotations

import io

import pypdfium2
import pytest
from reportlab.pdfgen.canvas import Canvas

from planner.papers.typefaces import as_printed, draw_text, runs, width_of

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


def test_arabic_letters_are_joined() -> None:
    printed = as_printed("قماش")
    # Joined forms stand in Unicode's block of Arabic presentation forms; the first letter is printed last.
    assert all("\ufe70" <= letter <= "\ufeff" for letter in printed)
    assert printed[-1] == "\ufed7"


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
