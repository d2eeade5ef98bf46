"""The colours of cloths and notions on the screen."""

from __future__ import annotations

from planner.core.spec import ClothKey, NotionKey, Workshop


def swatches(shop: Workshop) -> dict[ClothKey | NotionKey, str]:
    """#rrggbb by cloth and notion; "" where a notion has no colour."""
    cloths = {key: cloth.swatch for key, cloth in shop.cloths.items()}
    return {**cloths, **{key: notion.swatch for key, notion in shop.notions.items()}}
