"""The colours of cloths and notions on the screen."""

from __future__ import annotations

from planner.core.spec import ClothKey, NotionKey
from planner.materials.models import FabricColour, NotionColour


def swatches() -> dict[ClothKey | NotionKey, str]:
    """#rrggbb by cloth and notion; two queries."""
    found: dict[ClothKey | NotionKey, str] = {}
    for fabric, name, swatch in FabricColour.objects.values_list("fabric__name", "name", "swatch"):
        found[ClothKey(fabric, name)] = swatch
    for notion, name, swatch in NotionColour.objects.values_list("notion__name", "name", "swatch"):
        found[NotionKey(notion, name)] = swatch
    return found
