"""Fills an empty workroom with the invented one of the fixtures, all or nothing."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.contrib.auth.models import User
from django.db import connection, transaction

from planner.materials.models import Fabric, Notion, Supplier, Workroom
from planner.orders.models import Customer, Order
from planner.styles.models import SizeRange, Style
from planner.web.demo_batches import Nest, answer_markers, read_answers
from planner.web.demo_loader import Data, DemoLoaded, Loader

DEMO_FILE = settings.BASE_DIR / "fixtures" / "demo-workroom.json"
DEMAND_FILE = settings.BASE_DIR / "fixtures" / "demo-demand.csv"
#: Rooms whose rows make up a workroom; people, sessions and the queue stay out of it.
ROOMS = ("sewing", "costs", "cutting", "orders", "styles", "materials")


class NotEmptyError(Exception):
    """There is something in the workroom already."""


class NotTheDemoError(Exception):
    """What is in the workroom is not the demo, so it is not thrown away."""


def read_demo(path: Path = DEMO_FILE) -> Data:
    """The fixture as plain data."""
    data: Data = json.loads(path.read_text(encoding="utf-8"))
    return data


@transaction.atomic
def load_demo(
    data: Data,
    today: date,
    person: User | None = None,
    *,
    replace: bool = False,
    nest: Nest | None = None,
) -> DemoLoaded:
    """Loads the demo, its dates counted from `today`; `nest` answers waiting markers, from the
    fixture unless given.

    Raises NotEmptyError where something is there already. With `replace` that is deleted first, but only
    where the workroom still bears the demo's name; otherwise NotTheDemoError.
    """
    if not is_empty():
        if not replace:
            raise NotEmptyError
        if Workroom.the().name != data["workroom"]["name"]:
            raise NotTheDemoError
        empty_workroom()
    return Loader(today, person, nest or (lambda: answer_markers(read_answers()))).load(data)


def is_empty() -> bool:
    """Whether no style, cloth, notion, order, customer, supplier or size range has been entered."""
    kinds = (Style, Fabric, Notion, Order, Customer, Supplier, SizeRange)
    return not any(kind.objects.exists() for kind in kinds)


def empty_workroom() -> None:
    """Deletes everything but people. Relations are checked when the transaction ends, so order is free."""
    with transaction.atomic(), connection.cursor() as cursor:
        for room in ROOMS:
            for model in apps.get_app_config(room).get_models(include_auto_created=True):
                cursor.execute(f"DELETE FROM {connection.ops.quote_name(model._meta.db_table)}")
