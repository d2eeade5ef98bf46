"""Numbers for batches, given without gaps."""

from planner.cutting.models import Batch


def next_batch_number() -> str:
    """The number after the newest batch's, "B-0001" for the first. Call it inside the writing transaction."""
    newest = Batch.objects.order_by("-pk").values_list("number", flat=True).first()
    last = int(newest.rpartition("-")[2]) if newest else 0
    return f"B-{last + 1:04d}"
