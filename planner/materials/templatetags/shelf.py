"""Amounts as they lie on the shelf."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template

from planner.common.templatetags.marks import metres
from planner.core.units import THIN_SPACE, format_thickness, format_weight, plain_number

register = template.Library()


@register.simple_tag(takes_context=True)
def amount(context: dict[str, Any], quantity: Decimal, unit: str) -> str:
    """A quantity of a notion: a length in the workroom's units, or so many pieces."""
    return metres(context, quantity) if unit == "m" else f"{plain_number(quantity)}{THIN_SPACE}pcs"


@register.simple_tag(takes_context=True)
def thickness(context: dict[str, Any], mm: Decimal) -> str:
    """How thick a layer of cloth is, in the workroom's units."""
    return format_thickness(mm, context["workroom"].display)


@register.simple_tag(takes_context=True)
def cloth_weight(context: dict[str, Any], gsm: Decimal) -> str:
    """The weight of a cloth by area, in the workroom's units."""
    return format_weight(gsm, context["workroom"].display)
