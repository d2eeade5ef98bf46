"""`manage.py plan` on the demo workroom: plan file, papers, summary, and bad rows."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from django.conf import settings
from django.core.management import CommandError, ManagementUtility, call_command
from django.urls import reverse

from planner.core.lays import nestings, settle
from planner.core.lays.model import Marker, MarkerJob
from planner.core.lays.nest import PieceTooWide
from planner.core.lays.rows import first_marker
from planner.core.lays.stored import family_of, job_from_json
from planner.cutting.actions import saving
from planner.cutting.management.commands import plan as plan_command
from planner.cutting.models import Batch, Bundle, LayRoll
from planner.cutting.models import Marker as MarkerRow
from planner.materials.models import Fabric, FabricColour, Workroom
from planner.styles.models import Detail, Option, Style
from planner.web.demo import DEMAND_FILE
from tests.demo import loaded_demo
from tests.factories import TODAY, make_built_on, make_style, stock
from tests.papers.words import texts_of

pytestmark = pytest.mark.django_db
CHECKER = Path(settings.BASE_DIR).parent / "shared" / "tools" / "check_plan.py"
PAPERS = [
    "bundle-labels.pdf",
    "bundle-tickets.pdf",
    "buy-list.csv",
    "buy-list.pdf",
    "cut-sheet.pdf",
    "cut-tickets.pdf",
]


@pytest.fixture(autouse=True)
def prepared(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """How often the search was asked to be compiled: the process that does it would outlive the tests. Those that
    search wait for it beforehand (`compiled_search`).
    """
    asked = list[bool]()
    monkeypatch.setattr(plan_command, "prepare_search", lambda: asked.append(True))
    return asked


@pytest.fixture
def demo(db: None) -> None:
    loaded_demo(TODAY)


@pytest.fixture
def nested(monkeypatch: pytest.MonkeyPatch) -> list[Marker]:
    """The first two markers asked for, which one process nests as always; all others are laid in plain rows."""
    real, done = nestings.nest_ruled, []

    def nest(job: MarkerJob, *, start: Marker | None = None, **options: Any) -> Marker:
        if len(done) >= 2:
            return start or first_marker(job)
        done.append(real(job, start=start, workers=1, **options))
        return done[-1]

    monkeypatch.setattr(nestings, "nest_ruled", nest)
    return done


@pytest.mark.slow
def test_the_demo_demand_becomes_a_plan_and_papers(
    demo: None, compiled_search: None, nested: list[Marker], tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    """Some rows of it, of both colourways: that every row can be planned is asked in `test_demo.py`."""
    demand, out, folder = tmp_path / "demand.csv", tmp_path / "plan.json", tmp_path / "papers"
    head, *rows = DEMAND_FILE.read_text(encoding="utf-8").splitlines()
    demand.write_text("\n".join([head, *(row for row in rows if ",S," in row or ",M," in row)]))
    call_command("plan", str(demand), "--json", str(out), "--papers", str(folder), "--seconds", "1", "--save")
    plan = json.loads(out.read_text())
    assert sum(row["quantity"] for row in plan["demand"]) == 10
    assert sum(bundle["quantity"] for bundle in plan["bundles"]) == 10
    lengths = {lay["marker_length_mm"] for cloth in plan["cloths"] for lay in cloth["lays"]}
    assert lengths & {round(marker.length_mm, 3) for marker in nested}
    assert sorted(path.name for path in folder.iterdir()) == PAPERS
    for name in PAPERS:
        if name.endswith(".pdf"):
            assert plan["batch"] in texts_of((folder / name).read_bytes())[0]
    said = capsys.readouterr().out
    assert "10 garments" in said
    assert "plain jersey 180, ink" in said
    batch = Batch.objects.get(number=plan["batch"])
    assert (batch.state, batch.bundles.count()) == ("planned", len(plan["bundles"]))
    if CHECKER.exists():
        checked = subprocess.run(
            [sys.executable, CHECKER, out, "--piece-gap", "1.9"], capture_output=True, text=True, check=False
        )
        assert checked.returncode == 0, checked.stdout


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A demand file of four garments of the tiny style, laid in plain rows: the demo's demand is nested."""
    monkeypatch.setattr(nestings, "nest_ruled", lambda job, **_: first_marker(job))
    make_style()
    path = tmp_path / "small.csv"
    path.write_text(
        "style,options,colourway,size,quantity\n110,neck=rib band,ink,S,1\n110,neck=rib band,ink,M,3\n"
    )
    return path


def test_a_bad_row_or_option_is_named_and_nothing_is_planned_or_written(
    small: Path, tmp_path: Path, prepared: list[bool]
) -> None:
    rows, out, folder = small.read_text(), tmp_path / "plan.json", tmp_path / "papers"
    for row, said in (
        ("110,neck=rib band,ink,S,many", "line 4, column quantity"),
        ("911,,ink,S,1", "line 4, column style"),
    ):
        small.write_text(f"{rows}{row}\n")
        with pytest.raises(CommandError, match=said) as refusal:
            call_command("plan", str(small), "--json", str(out), "--papers", str(folder), "--save")
        assert refusal.value.returncode == 2
    with pytest.raises(CommandError, match=r"none\.csv") as refusal:
        call_command("plan", str(tmp_path / "none.csv"))
    assert refusal.value.returncode == 2
    for option, values in (
        ("--seconds", ("0", "-1", "nan", "inf", "soon")),
        ("--seed", ("-1", "x", "1.5", "9" * 30)),
    ):
        for value in values:
            with pytest.raises(CommandError, match=option):
                call_command("plan", str(small), f"{option}={value}")
    assert (out.exists(), folder.exists(), Batch.objects.count()) == (False, False, 0)
    assert not prepared, "the search is not compiled for what is not planned"


def test_without_save_nothing_is_changed(small: Path, tmp_path: Path, prepared: list[bool]) -> None:
    out = tmp_path / "deep" / "er" / "plan.json"
    call_command("plan", str(small), "--json", str(out), "--seconds", "2")
    assert out.exists(), "folders are made"
    assert not Batch.objects.exists()
    assert prepared == [True], "the search is compiled beside"


def test_without_save_plies_that_fit_on_no_end_are_bought_whole_too(
    small: Path, tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    """An end of 30 cm cannot be joined to a ply: as much is bought as for a saved batch, not 30 cm less."""
    Fabric.objects.update(damage_percent=2, pack_quantity=Decimal("0.1"))
    stock(FabricColour.objects.get(fabric__name="jersey", name="ink"), "0.3", roll="R-1")
    bought = []
    for more in ((), ("--save",)):
        folder = tmp_path / f"papers{len(more)}"
        call_command("plan", str(small), "--papers", str(folder), "--seconds", "2", *more)
        said = capsys.readouterr().out.replace("\N{THIN SPACE}", " ")
        told = re.search(
            r"jersey, ink: ([\d.]+) m on the table, .* 0.30 m there for it, buy ([\d.]+) m", said
        )
        assert told, said
        laid, buy = map(Decimal, told.groups())
        assert buy >= laid
        (row,) = [
            line for line in (folder / "buy-list.csv").read_text().splitlines() if ",jersey,ink," in line
        ]
        assert f",{buy}\N{THIN SPACE}m," in row
        assert "no roll or end there holds plies for" in row
        assert f"{buy} m" in texts_of((folder / "cut-sheet.pdf").read_bytes())[0].replace(
            "\N{THIN SPACE}", " "
        )
        bought.append(buy)
    assert bought[0] == bought[1]


def test_what_a_cloth_takes_on_the_table_is_told_as_the_length_of_its_one_lay(
    small: Path, capsys: pytest.CaptureFixture
) -> None:
    """Two millimetres beyond the centimetre: rounded to the nearest it would be told as less than its lay."""
    small.write_text("style,options,colourway,size,quantity\n110,neck=rib band,ink,M,1\n")
    Fabric.objects.update(end_allowance_mm=21)
    call_command("plan", str(small), "--seconds", "2")
    said = capsys.readouterr().out.replace("\N{THIN SPACE}", " ")
    told = re.findall(r": ([\d.]+) m on the table.*\n *lay \d+: 1 × ([\d.]+) m to spread", said)
    assert told == [("0.68", "0.68"), ("0.11", "0.11")]


def test_a_piece_too_short_for_the_best_lay_is_used_where_that_spends_less(
    small: Path, tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    """One ply of S, M and L is some 1.9 m long; of 1.55 m two of them are cut, and 0.7 m are bought for the third."""
    one_each = "".join(f"110,neck=rib band,ink,{size},1\n" for size in ("S", "M", "L"))
    small.write_text(f"style,options,colourway,size,quantity\n{one_each}")
    stock(FabricColour.objects.get(fabric__name="jersey", name="ink"), "1.55", roll="E-1")
    out = tmp_path / "plan.json"
    call_command("plan", str(small), "--json", str(out), "--seconds", "2", "--save")
    said = capsys.readouterr().out.replace("\N{THIN SPACE}", " ")
    told = re.search(
        r"jersey: Planned from what lies in stock: it buys ([\d.]+) m, ([\d.]+) m less than without looking there, for"
        r" [\d]+ minutes more work\. Without looking there: 1 lay, as far as that is nested; what is bought"
        r" and the work at the table come to ",
        said,
    )
    assert told, said
    assert sum(map(Decimal, told.groups())) == Decimal("2.0")
    assert "1.98 m needed, 1.55 m there for it, buy 0.7 m" in said
    assert re.search(r"^  overlock thread, ink: ", said, re.MULTILINE)
    assert " : " not in said, "what comes in no colour has none named"
    assert Batch.objects.get().cut_plans.get(fabric__name="jersey").aim == "from_stock"
    if CHECKER.exists():
        checked = subprocess.run(
            [sys.executable, CHECKER, out, "--piece-gap", "1.9"], capture_output=True, text=True, check=False
        )
        assert checked.returncode == 0, checked.stdout


def test_what_is_saved_is_called_uncertain_until_single_sizes_are_nested_which_can_be_asked_for(
    small: Path, capsys: pytest.CaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The tiny style is all rectangles, whose rows need no search; as if they did.
    monkeypatch.setattr(settle, "is_known", lambda job: False)
    call_command("plan", str(small), "--seconds", "2")
    said = capsys.readouterr().out
    assert "saves about" in said
    assert "(those as estimated)" in said
    assert "What is saved is uncertain" in said
    assert "--nest-singles" in said
    call_command("plan", str(small), "--seconds", "2", "--nest-singles")
    said = capsys.readouterr().out
    assert "of single sizes, nested too" in said
    assert "uncertain" not in said
    assert "saves about" not in said


def test_of_very_many_lays_the_first_are_told_and_how_many_more_there_are(
    small: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture
) -> None:
    out = tmp_path / "plan.json"
    call_command("plan", str(small), "--json", str(out), "--seconds", "1")
    whole = capsys.readouterr().out
    lays = [line for line in whole.splitlines() if line.startswith("    lay ")]
    assert len(lays) == sum(len(cloth["lays"]) for cloth in json.loads(out.read_text())["cloths"]) > 1
    monkeypatch.setattr(plan_command, "MOST_LAYS_TOLD", 1)
    call_command("plan", str(small), "--seconds", "1")
    said = [line for line in capsys.readouterr().out.splitlines() if line.startswith("    ")]
    assert said[0].startswith("    lay ")
    told = sum(int(found[1]) for line in said[1:] if (found := re.search(r"(\d+) (?:more )?lays?;", line)))
    assert told == len(lays) - 1
    assert all(line.endswith("; --json and --papers write them all") for line in said[1:])


def test_lays_without_the_better_search_say_so(
    small: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture
) -> None:
    for how, told in (
        ("unsearched", "not ready yet"),
        ("library", "could not be made ready"),
        ("rows", "Some lays are plain rows, for the nesting found nothing better or did not run"),
    ):
        as_found = partial(replace, how=how)
        monkeypatch.setattr(nestings, "nest_ruled", lambda job, found=as_found, **_: found(first_marker(job)))
        call_command("plan", str(small), "--seconds", "2")
        assert told in capsys.readouterr().out, how


def test_a_workroom_with_inches_is_told_yards_and_inches(
    small: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    Workroom.the()
    Workroom.objects.update(display="imperial")
    call_command("plan", str(small), "--seconds", "2")
    said = capsys.readouterr().out
    assert "yd on the table" in said
    # What things are called and packed in stays as it is called.
    of_cloth = [line for line in said.splitlines() if "jersey" in line or "rib" in line or " lay " in line]
    assert len(of_cloth) >= 4
    assert not [line for line in of_cloth if re.search(r"\d\s(m|cm|mm)\b", line)]

    def refuse(job: MarkerJob, **_: Any) -> Marker:
        raise PieceTooWide("front", "M", 1600.2, 1524.0)

    monkeypatch.setattr(nestings, "nest_ruled", refuse)
    with pytest.raises(
        CommandError, match=r"front in size M is 63\sin wide, but the cloth lies only 60\sin wide"
    ):
        call_command("plan", str(small), "--seconds", "2")


def test_a_saved_plan_is_a_batch_with_bundles_markers_and_rolls(
    small: Path, tmp_path: Path, capsys: pytest.CaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = list[int]()
    monkeypatch.setattr(saving, "queue_singles", asked.append)
    Workroom.the()
    Workroom.objects.update(bundle_size=0)
    jersey, out = FabricColour.objects.get(fabric__name="jersey"), tmp_path / "plan.json"
    stock(jersey, 20, roll="R-12")
    command = ("plan", str(small), "--json", str(out), "--papers", str(tmp_path), "--seconds", "2", "--save")
    call_command(*command)
    assert "with its rolls" in capsys.readouterr().out
    batch = Batch.objects.get()
    rolls = LayRoll.objects.filter(lay_cloth__lay__batch=batch, lay_cloth__fabric_colour=jersey)
    assert set(rolls.values_list("roll__number", flat=True)) == {"R-12"}
    for name in ("cut-sheet.pdf", "cut-tickets.pdf"):
        assert "R-12" in texts_of((tmp_path / name).read_bytes())[0]
    # As once it has settled in the browser, the worker goes on with what the plan is held against.
    assert asked == [batch.pk]
    # Bundles by order line are the same in the plan, and tickets lead to them.
    planned = {row["number"]: row["quantity"] for row in json.loads(out.read_text())["bundles"]}
    assert sorted(planned.values()) == [1, 3]
    assert planned == dict(Bundle.objects.values_list("number", "quantity"))
    pages = pypdfium2.PdfDocument(tmp_path / "bundle-labels.pdf")
    read = {code.text for page in pages for code in zxingcpp.read_barcodes(page.render(scale=3).to_pil())}
    assert read == {settings.BASE_URL + reverse("bundle-scan", args=[b.token]) for b in Bundle.objects.all()}
    # Its lays are examples for other sizes.
    markers = MarkerRow.objects.filter(lays__batch=batch)
    assert [row.family for row in markers] == [family_of(job_from_json(row.job)) for row in markers]


def test_what_cannot_be_planned_is_said_and_nothing_written(small: Path, tmp_path: Path) -> None:
    Style.objects.get().pieces.get(name="front").outlines.all().delete()
    out = tmp_path / "plan.json"
    with pytest.raises(CommandError, match="front") as refusal:
        call_command("plan", str(small), "--json", str(out), "--save")
    assert refusal.value.returncode == 2
    assert (out.exists(), Batch.objects.count()) == (False, 0)


def test_options_that_exclude_each_other_are_named_by_line_and_column(small: Path, tmp_path: Path) -> None:
    style, out = Style.objects.get(), tmp_path / "plan.json"
    sleeve = Detail.objects.create(style=style, name="sleeve")
    plain, cap = (Option.objects.create(detail=sleeve, name=name) for name in ("plain", "cap"))
    cap.not_with.add(Option.objects.get(name="rib band"))
    row = "110,neck=rib band;sleeve={},ink,M,1\n"
    small.write_text("style,options,colourway,size,quantity\n" + row.format(plain) + row.format(cap))
    said = "line 3, column options: the neck rib band and the sleeve cap cannot be had together"
    with pytest.raises(CommandError, match=said) as refusal:
        call_command("plan", str(small), "--json", str(out), "--save")
    assert refusal.value.returncode == 2
    assert (out.exists(), Batch.objects.count()) == (False, 0)


def test_a_style_built_on_a_base_is_planned_and_saved_with_the_bases_options(
    small: Path, tmp_path: Path
) -> None:
    make_built_on(Style.objects.get(), "111")
    small.write_text("style,options,colourway,size,quantity\n111,neck=rib band,moss,M,2\n")
    out = tmp_path / "plan.json"
    call_command("plan", str(small), "--json", str(out), "--seconds", "2", "--save")
    counts = json.loads(out.read_text())["cutting_counts"]
    assert {(row["piece"], row["count"]) for row in counts} == {
        ("front", 2),
        ("back", 2),
        ("rib neck band", 2),
    }
    bundle = Bundle.objects.first()
    assert bundle is not None
    assert bundle.style.number == "111"
    assert bundle.options.get().detail.style.number == "110"


def test_a_file_that_cannot_be_written_is_told_in_a_line(small: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(CommandError, match="file") as refusal:
        call_command("plan", str(small), "--json", str(tmp_path / "file" / "plan.json"), "--seconds", "2")
    assert refusal.value.returncode == 2


def test_the_exit_status_of_the_command_itself_is_two(tmp_path: Path) -> None:
    """`manage.py` hands the status on to whoever called it."""
    missing = tmp_path / "none.csv"
    with pytest.raises(SystemExit) as ended:
        ManagementUtility(["manage.py", "plan", str(missing)]).execute()
    assert ended.value.code == 2
