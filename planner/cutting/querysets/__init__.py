"""Questions asked of batches, lays and bundles, in the shop's words; to be imported from here."""

from planner.cutting.querysets.batches import ON_THE_GO, BatchQuerySet, BundleQuerySet
from planner.cutting.querysets.lays import LayQuerySet, LayRollQuerySet, lost_at_flaws
from planner.cutting.querysets.markers import SILENT_AFTER, MarkerQuerySet
from planner.cutting.querysets.needs import BatchNeedQuerySet

__all__ = [
    "ON_THE_GO", "SILENT_AFTER", "BatchNeedQuerySet", "BatchQuerySet", "BundleQuerySet", "LayQuerySet",
    "LayRollQuerySet", "MarkerQuerySet", "lost_at_flaws",
]  # fmt: skip
