"""Fabrics, their colours and rolls, notions, suppliers, and every move of stock.

What is on hand is never stored: it is the sum of the stock moves.
"""

from planner.materials.models.cloth import Fabric as Fabric
from planner.materials.models.cloth import FabricColour as FabricColour
from planner.materials.models.cloth import Roll as Roll
from planner.materials.models.cloth import RollFlaw as RollFlaw
from planner.materials.models.moves import StockMove as StockMove
from planner.materials.models.notions import Notion as Notion
from planner.materials.models.notions import NotionColour as NotionColour
from planner.materials.models.workroom import MINUTES as MINUTES
from planner.materials.models.workroom import Machine as Machine
from planner.materials.models.workroom import MachineStitch as MachineStitch
from planner.materials.models.workroom import Supplier as Supplier
from planner.materials.models.workroom import Workroom as Workroom
