"""What the core knows about styles, cloths and demand: frozen dataclasses, no behaviour beyond look-ups.

The database is read into these once (see `specs.py` in the apps); everything that computes takes them.
Lengths are float mm, money is Decimal. An option is a pair (detail, option), e.g. ("neck", "rib band").
"""

from planner.core.spec.garments import Demand as Demand
from planner.core.spec.garments import Garment as Garment
from planner.core.spec.garments import Option as Option
from planner.core.spec.garments import Options as Options
from planner.core.spec.garments import make_options as make_options
from planner.core.spec.materials import Cloth as Cloth
from planner.core.spec.materials import ClothKey as ClothKey
from planner.core.spec.materials import Mode as Mode
from planner.core.spec.materials import Notion as Notion
from planner.core.spec.materials import NotionKey as NotionKey
from planner.core.spec.materials import NotionKind as NotionKind
from planner.core.spec.materials import ShrinkageHandling as ShrinkageHandling
from planner.core.spec.materials import SoldBy as SoldBy
from planner.core.spec.styles import BandSpec as BandSpec
from planner.core.spec.styles import Basis as Basis
from planner.core.spec.styles import ColourwaySpec as ColourwaySpec
from planner.core.spec.styles import EdgeRef as EdgeRef
from planner.core.spec.styles import Fullness as Fullness
from planner.core.spec.styles import NotionUse as NotionUse
from planner.core.spec.styles import OperationSpec as OperationSpec
from planner.core.spec.styles import PieceSpec as PieceSpec
from planner.core.spec.styles import Position as Position
from planner.core.spec.styles import SeamSpec as SeamSpec
from planner.core.spec.styles import StyleSpec as StyleSpec
from planner.core.spec.workshop import LayTimes as LayTimes
from planner.core.spec.workshop import MachineSpec as MachineSpec
from planner.core.spec.workshop import StitchSetting as StitchSetting
from planner.core.spec.workshop import Workshop as Workshop
