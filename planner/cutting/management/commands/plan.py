"""`manage.py plan`: from a demand file to a plan file and the papers, without a browser."""

from __future__ import annotations

import json
import sys
import time
from argparse import ArgumentTypeError
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from threading import Thread
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from planner.core.demand_file import read_demand
from planner.core.lays.cut_plans import Lengths
from planner.core.lays.nested_lay import NestedLay
from planner.core.lays.plan import CannotPlan, cloths_of
from planner.core.lays.rows import GOOD_ROWS, is_shortest
from planner.core.lays.solver import one_after_another, prepare_search
from planner.core.listed import counted
from planner.core.planfile import plan_to_json
from planner.core.planning import Plan, Progress, plan_batch
from planner.core.spec import Workshop
from planner.core.too_wide import told_once
from planner.core.units import format_length
from planner.cutting.actions.saving import save_plan
from planner.cutting.bundle_papers import ticket_data
from planner.cutting.bundling import with_bundle_size
from planner.cutting.buy_papers import buy_list_data
from planner.cutting.free_pieces import free_of
from planner.cutting.learning import learnt
from planner.cutting.numbers import next_batch_number
from planner.cutting.papers import PaperSetting, cut_sheet_data, heading_of, ticket_lays
from planner.cutting.plan_words import lays_in_words
from planner.cutting.printed import BUNDLES
from planner.cutting.reading import bundles_of
from planner.cutting.reckoned import amount_in_words
from planner.cutting.reckoning import cloth_figures, notion_figures
from planner.cutting.setting import batch_setting, heading_for, plain_setting, with_marks
from planner.cutting.stock import free_workshop
from planner.cutting.stock_words import stock_in_words
from planner.cutting.stored import plan_of, planned_batch
from planner.cutting.told_amounts import told_amounts
from planner.cutting.unsaved import bought_by_pieces
from planner.cutting.why import plans_in_words
from planner.cutting.wording import cloth_to_buy, packs_to_buy, to_spread_in_words
from planner.materials.models import Workroom
from planner.papers.bundle_tickets import bundle_tickets
from planner.papers.buy_lists import buy_list, buy_list_csv
from planner.papers.cut_sheets import cut_sheet
from planner.papers.cut_tickets import cut_tickets

#: Estimates of single sizes come out longer or shorter once they are nested, on knit tops mostly longer.
UNSURE_SAVING = (
    "What is saved is uncertain, for single sizes are estimates as far as they were not nested, reckoned from how well"
    " the lays of this plan came out: lays nested in too little time lengthen both. --nest-singles nests them too, a"
    " few seconds each."
)
#: So many lays are told one by one; a plan of very many has them in its file and on its papers.
MOST_LAYS_TOLD = 40
UNSEARCHED = (
    "Some lays were nested by the simpler search alone, because the better one was not ready yet or there was no time"
    " for it; planned once more, or with more --seconds, they may become shorter."
)
IN_ROWS = (
    "Some lays are plain rows, for the nesting found nothing better or did not run on this computer. They can be cut,"
    " but mostly take more cloth than need be."
)
LIBRARY_ALONE = (
    "Some lays are as the simpler search nested them, for the better one could not be made ready on this computer. They"
    " can be cut, and may take a little more cloth than need be."
)


def seconds(text: str) -> float:
    """Nesting time: a number of seconds above zero, a day at most."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0 < value <= 86_400:
        raise ArgumentTypeError(f"“{text}” is not a number of seconds between 0 and 86400")
    return value


def seed(text: str) -> int:
    """Start value of the nesting: a whole number the solver can hold."""
    if not (text.isascii() and text.isdigit() and int(text[:10]) < 2**31 and len(text) <= 10):
        raise ArgumentTypeError(f"“{text}” is not a whole number from 0 to {2**31 - 1}")
    return int(text)


class Command(BaseCommand):
    """Runs the main job: reads demand, plans, writes the plan file and the PDFs, prints a summary."""

    help = "Plans a demand file: lays, needs, bundles, plan file and papers."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("demand", metavar="DEMAND.csv", type=Path)
        parser.add_argument("--json", metavar="OUT.json", type=Path, help="write the plan file here")
        parser.add_argument("--papers", metavar="DIR", type=Path, help="write the PDFs into this folder")
        parser.add_argument("--demo", action="store_true", help="use the demo workroom")
        parser.add_argument("--seconds", type=seconds, help="nesting time for the whole batch")
        parser.add_argument("--seed", type=seed, default=0, help="start value of the nesting")
        parser.add_argument(
            "--nest-singles",
            action="store_true",
            help="nest the lays of single sizes that the plan is held against too, a few seconds for each",
        )
        parser.add_argument("--save", action="store_true", help="keep the plan as a batch of the workroom")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            data = options["demand"].read_bytes()
        except OSError as fault:
            raise CommandError(f"{options['demand']}: {fault.strerror}", returncode=2) from fault
        room = Workroom.the()
        shop = with_bundle_size(free_workshop(None))
        wanted = read_demand(data, shop.styles)
        if wanted.problems:
            lines = "\n".join(f"{options['demand']}, {problem}" for problem in wanted.problems[:20])
            raise CommandError(lines, returncode=2)
        # After an update of the program the search is compiled beside; until then the library nests.
        Thread(target=prepare_search, name="prepare-search", daemon=True).start()
        started = time.monotonic()
        cloths = set(cloths_of([row.garment for row in wanted.demand], shop))
        try:
            with one_after_another():
                plan = plan_batch(
                    wanted.demand,
                    shop,
                    batch=next_batch_number(),
                    seconds=options["seconds"],
                    seed=options["seed"],
                    lengths=Lengths(learnt=learnt({key.fabric for key in cloths})),
                    stock=free_of(None, cloths, shop),
                    on_progress=self._progress(room.display),
                    nest_singles=options["nest_singles"],
                )
        except CannotPlan as refusal:
            told = told_once(refusal.problems, room.display)
            text = "\n".join(f"cannot plan: {one}" for one in told)
            raise CommandError(text, returncode=2) from refusal
        self._progress_done()
        setting = plain_setting(room, heading_for(room, plan.batch, timezone.localtime(), None))
        if options["save"]:
            batch = save_plan(plan, shop, timezone.localdate(), timezone.now())
            # The tickets then carry the addresses of the bundles that were saved, which go by the rolls there are.
            saved = planned_batch(batch)
            plan, shop = replace(plan_of(saved), facts=plan.facts), saved.shop
            setting = batch_setting(room, batch, timezone.localtime(), saved.demand)
            setting = with_marks(setting, batch, saved.lays, bundles_of(batch, saved.lays))
            self.stdout.write(f"Saved as batch {batch.number}, with its rolls.")
        else:
            plan = bought_by_pieces(plan, shop, room.display)
        setting = replace(setting, judged=plans_in_words(plan.facts, room.display))
        if options["json"]:
            _write(options["json"], json.dumps(plan_to_json(plan), ensure_ascii=False).encode())
        if options["papers"]:
            self._write_papers(options["papers"], plan, shop, setting, room)
        self._summary(plan, shop, setting, time.monotonic() - started, options)

    def _progress(self, display: Any) -> Any:
        if not sys.stderr.isatty():
            return None

        def tell(progress: Progress) -> None:
            lay = progress.planned
            self.stderr.write(
                f"\rlay {progress.done + 1} of {progress.lays}: {lay.fabric} "
                f"{_to_spread(progress.marker.length_mm, display)}   ",
                ending="",
            )

        return tell

    @staticmethod
    def _doubts(plan: Plan) -> Iterator[str]:
        """What makes figures of the plan uncertain, and what to do about it."""
        if any(one.single.nested < one.single.lays for one in plan.facts.values() if one.single_lays):
            yield UNSURE_SAVING
        hows = {lay.marker.how for lay in plan.lays}
        if any(_is_poor(lay) for lay in plan.lays):
            yield IN_ROWS
        if "unsearched" in hows:
            yield UNSEARCHED
        elif "library" in hows:
            yield LIBRARY_ALONE

    def _progress_done(self) -> None:
        if sys.stderr.isatty():
            self.stderr.write("")

    def _write_papers(
        self, folder: Path, plan: Plan, shop: Workshop, setting: PaperSetting, room: Workroom
    ) -> None:
        size: Any = room.paper
        lays = {planned.cloth.key: planned.lays for planned in plan.cloths if not planned.need.is_estimate}
        buying = buy_list_data(plan.needs, shop, setting, lays)
        imperial = setting.display == Workroom.Display.IMPERIAL
        _write(folder / "cut-sheet.pdf", cut_sheet(cut_sheet_data(plan, shop, setting), size))
        _write(
            folder / "cut-tickets.pdf",
            cut_tickets(setting.heading, ticket_lays(plan, shop, setting), size, imperial=imperial),
        )
        tickets = ticket_data(plan, shop, setting)
        heading = heading_of(BUNDLES, setting)
        _write(folder / "bundle-tickets.pdf", bundle_tickets(heading, tickets, size))
        _write(folder / "bundle-labels.pdf", bundle_tickets(heading, tickets, "label"))
        _write(folder / "buy-list.pdf", buy_list(buying, size))
        _write(folder / "buy-list.csv", buy_list_csv(buying))

    def _summary(
        self, plan: Plan, shop: Workshop, setting: PaperSetting, took: float, options: dict[str, Any]
    ) -> None:
        garments = sum(row.quantity for row in plan.demand)
        say, display = self.stdout.write, setting.display
        lays, bundles = counted(len(plan.lays), "lay"), counted(len(plan.bundles), "bundle")
        say(f"Batch {plan.batch}: {counted(garments, 'garment')}, {lays}, {bundles}.")
        for fabric, facts in plan.facts.items():
            if line := stock_in_words(facts, display, setting.currency):
                say(f"  {fabric}: {line}")
        for line in plans_in_words(plan.facts, display, setting.currency):
            say(f"  {line}")
        for line in self._doubts(plan):
            say(f"  {line}")
        is_written = bool(options["json"] or options["papers"])
        for line in _cloth_lines(plan, display, is_written=is_written):
            say(f"  {line}")
        for need in plan.needs.notions:
            amount = told_amounts(notion_figures(need, shop.notions[need.key]), display, in_packs=True).need
            what = f"{need.key.notion}, {need.key.colour}" if need.key.colour else need.key.notion
            say(f"  {what}: {amount}, buy {packs_to_buy(need) or 'nothing'}")
        for name in ("json", "papers"):
            if options[name]:
                say(f"Written: {options[name]}")
        say(f"Took {took:.0f} s.")


def _is_poor(lay: NestedLay) -> bool:
    """Whether it lies in plain rows that may well be longer than they need be."""
    marker = lay.marker
    is_good = marker.efficiency >= GOOD_ROWS or is_shortest(lay.planned.job, marker)
    return marker.how == "rows" and not is_good


def _cloth_lines(plan: Plan, display: Any, *, is_written: bool) -> Iterator[str]:
    """What each cloth takes, with its lays; of very many lays the first, and how many more there are."""
    where = "" if is_written else "; --json and --papers write them all"
    room = MOST_LAYS_TOLD
    for planned in plan.cloths:
        key = planned.cloth.key
        buy = cloth_to_buy(planned.need, planned.cloth, display) or "nothing"
        figures = cloth_figures(planned.need, planned.cloth, planned.lays)
        told = told_amounts(figures, display)
        laid = to_spread_in_words(planned.lay_m, display)
        there = f"{told.on_shelf} there for it"
        if figures.coming:
            coming = amount_in_words(figures.coming, figures, display)
            there += f", {coming} left of what is to be bought for others"
        yield f"{key.fabric}, {key.colour}: {laid} on the table, {told.need} needed, {there}, buy {buy}"
        lays = planned.lays[:room]
        room -= len(lays)
        for lay in lays:
            yield (
                f"  lay {lay.number}: {lay.planned.spreads_of(key)} × "
                f"{_to_spread(lay.marker.length_mm + 2 * lay.planned.end_allowance_mm, display)} to spread, "
                f"{lay.marker.efficiency * 100:.0f} % of the cloth used"
            )
        if rest := len(planned.lays) - len(lays):
            more = f"and {rest} more {'lay' if rest == 1 else 'lays'}" if lays else lays_in_words(rest)
            yield f"  {more}{where}"


def _to_spread(mm: float, display: Any) -> str:
    """A length on the table as pages and papers tell it."""
    return format_length(mm, display, "spread", at_least=True)


def _write(path: Path, data: bytes) -> None:
    """Writes a file whole, making its folder; a fault is told in one line."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    except OSError as fault:
        raise CommandError(f"{path}: {fault.strerror}", returncode=2) from fault
