"""Why a lay is not planned anew though others of its batch are being cut, in words that are true of this lay."""

from __future__ import annotations

from collections.abc import Sequence

from planner.cutting.models import Lay
from planner.cutting.plan_now import is_begun, is_untouched

BEGUN = "Stays as it is, for cutting has begun."
KEPT = "Not begun, and stays as it is, for it is kept so."
UNPLANNED = "Not begun, and stays as it is."


def why_it_stays(lay: Lay, lays: Sequence[Lay]) -> str:
    """In a sentence or two, for a lay that is not cut and cannot be planned anew; `lays` are all of its batch.

    A rest is planned anew where it came from, as long as nothing of it is cut: see `actions.rest.take_rest_back`.
    """
    if not is_untouched(lay):
        return BEGUN
    # Few lays are a rest; of very many each would look through all of them.
    whole = next((one for one in lays if one.pk == lay.rest_of_id), None) if lay.rest_of_id else None
    if whole is not None:
        others = [one.number for one in lays if one.rest_of_id == whole.pk and is_begun(one)]
        head = f"Not begun: the rest of lay {whole.number}"
        if others:
            return f"{head}. It stays as it is, for cutting of lay {others[0]}, which is of the same rest, has begun."
        return (
            f"{head}. To plan it anew, say on the page of lay {whole.number} that the rest is cut in that lay after "
            "all; then have its rest planned anew."
        )
    return KEPT if lay.is_kept else UNPLANNED
