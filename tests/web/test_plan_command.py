"""`manage.py plan` on the demo workroom: plan file, papers, summary, and bad rows."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from pypdf import PdfReader

from planner.cutting.models import Batch
from planner.web.demo import DEMAND_FILE

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


@pytest.fixture
def demo(db: None) -> None:
    call_command("load_demo", verbosity=0)


def test_the_demo_demand_becomes_a_plan_and_papers(
    demo: None, tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    out, folder = tmp_path / "plan.json", tmp_path / "papers"
    call_command(
        "plan", str(DEMAND_FILE), "--json", str(out), "--papers", str(folder), "--seconds", "7", "--save"
    )
    plan = json.loads(out.read_text())
    assert sum(row["quantity"] for row in plan["demand"]) == 24
    assert sum(bundle["quantity"] for bundle in plan["bundles"]) == 24
    assert sorted(path.name for path in folder.iterdir()) == PAPERS
    for name in PAPERS:
        if name.endswith(".pdf"):
            assert plan["batch"] in PdfReader(folder / name).pages[0].extract_text()
    said = capsys.readouterr().out
    assert "24 garments" in said
    assert "plain jersey 180, ink" in said
    batch = Batch.objects.get(number=plan["batch"])
    assert (batch.state, batch.bundles.count()) == ("planned", len(plan["bundles"]))
    if CHECKER.exists():
        checked = subprocess.run(
            [sys.executable, CHECKER, out, "--piece-gap", "1.9"], capture_output=True, text=True, check=False
        )
        assert checked.returncode == 0, checked.stdout


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("110,neck=rib band;sleeve=short,ink,XS,many", "line 3, column quantity"),
        ("911,,ink,XS,1", "line 3, column style"),
    ],
)
def test_a_bad_row_is_named_and_nothing_is_written(demo: None, tmp_path: Path, row: str, said: str) -> None:
    demand = tmp_path / "demand.csv"
    demand.write_text(
        f"style,options,colourway,size,quantity\n110,neck=rib band;sleeve=short,ink,XS,1\n{row}\n"
    )
    out, folder = tmp_path / "plan.json", tmp_path / "papers"
    batches = Batch.objects.count()
    with pytest.raises(CommandError, match=said) as refusal:
        call_command("plan", str(demand), "--json", str(out), "--papers", str(folder), "--save")
    assert refusal.value.returncode == 2
    assert (out.exists(), folder.exists(), Batch.objects.count()) == (False, False, batches)


def test_a_file_that_is_not_there_is_said(demo: None, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match=r"none\.csv") as refusal:
        call_command("plan", str(tmp_path / "none.csv"))
    assert refusal.value.returncode == 2
