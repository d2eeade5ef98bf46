"""The colours of cloths and notions on the screen."""

from __future__ import annotations

from django.db.models import CharField, Value

from planner.core.spec import ClothKey, NotionKey
from planner.materials.models import FabricColour, NotionColour


def swatches() -> dict[ClothKey | NotionKey, str]:
    """#rrggbb by cloth and notion; one query."""
    fabrics = FabricColour.objects.order_by().values_list(
        Value("fabric", output_field=CharField()), "fabric__name", "name", "swatch"
    )
    notions = NotionColour.objects.order_by().values_list(
        Value("notion", output_field=CharField()), "notion__name", "name", "swatch"
    )
    found: dict[ClothKey | NotionKey, str] = {}
    for of, what, colour, swatch in fabrics.union(notions, all=True):
        found[ClothKey(what, colour) if of == "fabric" else NotionKey(what, colour)] = swatch
    return found
