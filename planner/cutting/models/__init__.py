"""Batches, their needs, lays with nested markers, and bundles.

What is planned is written once as a snapshot (outlines, operations, widths), so that later changes of a style
never alter a batch that is on the table. What really happened is recorded beside it.
"""

from planner.cutting.models.batches import Batch as Batch
from planner.cutting.models.batches import BatchItem as BatchItem
from planner.cutting.models.batches import BatchNeed as BatchNeed
from planner.cutting.models.batches import BatchOperation as BatchOperation
from planner.cutting.models.batches import StyleSnapshot as StyleSnapshot
from planner.cutting.models.bundles import Bundle as Bundle
from planner.cutting.models.lays import Lay as Lay
from planner.cutting.models.lays import LayCloth as LayCloth
from planner.cutting.models.lays import LayFact as LayFact
from planner.cutting.models.lays import LayGarment as LayGarment
from planner.cutting.models.lays import LayRoll as LayRoll
from planner.cutting.models.lays import Marker as Marker
from planner.cutting.models.plans import CutPlan as CutPlan
from planner.cutting.models.plans import PlanAhead as PlanAhead
from planner.cutting.models.plans import PlanChoice as PlanChoice
