"""Amounts as they lie on the shelf."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template

from planner.common.templatetags.marks import metres, money
from planner.core.units import THIN_SPACE, format_thickness, format_weight, plain_number
from planner.materials.models import Fabric
from planner.materials.sold import price_as_told, priced_by

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


@register.simple_tag(takes_context=True)
def cloth_price(context: dict[str, Any], fabric: Fabric) -> str:
    """The price of a cloth for as much as :func:`priced_for` names."""
    return money(context, price_as_told(fabric.price, fabric.sold_by, context["workroom"].display))


@register.simple_tag(takes_context=True)
def priced_for(context: dict[str, Any], fabric: Fabric) -> str:
    """What the price of a cloth is for: "a metre", "a yard"."""
    return priced_by(fabric.sold_by, context["workroom"].display)
