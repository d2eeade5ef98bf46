"""Cut plans found ahead of a batch: kept by fabric, for those that plan it to begin from.

Which lays a large batch has is a search too long for somebody who waits; what it came upon overnight is not lost so.
Plans of other orders do no harm: those that do not cut just what is wanted are no beginning.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from planner.core.cut_plan.known import Sections
from planner.core.lays.wishes import PlanFacts, plans_from_json, plans_to_json
from planner.cutting.models import PlanAhead
from planner.materials.models import Fabric

#: So many are kept of a fabric: two or three for each batch that may be made next.
MOST_PLANS = 8


def plans_ahead(fabrics: Collection[str]) -> dict[str, tuple[Sections, ...]]:
    """Plans found ahead of these fabrics, by name. One query."""
    rows = PlanAhead.objects.filter(fabric__name__in=list(fabrics)).order_by()
    found = {}
    for name, plans in rows.values_list("fabric__name", "plans"):
        try:
            found[name] = plans_from_json(plans)
        except (TypeError, ValueError):
            continue  # written by another version
    return found


def keep_plans(found: Mapping[str, PlanFacts]) -> None:
    """Keeps the plans of fabrics, by name, before those kept until now."""
    before = plans_ahead(found)
    pks = dict(Fabric.objects.filter(name__in=list(found)).order_by().values_list("name", "pk"))
    for name, facts in found.items():
        plans = list(dict.fromkeys([*facts.plans, *before.get(name, ())]))[:MOST_PLANS]
        PlanAhead.objects.update_or_create(fabric_id=pks[name], defaults={"plans": plans_to_json(plans)})
