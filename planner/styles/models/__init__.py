"""Styles as they are sold: sizes, details with options, pieces with outlines, seams, operations, notions."""

from planner.styles.models.colourways import Colourway as Colourway
from planner.styles.models.colourways import ColourwayCloth as ColourwayCloth
from planner.styles.models.colourways import ColourwayThread as ColourwayThread
from planner.styles.models.making import Band as Band
from planner.styles.models.making import Operation as Operation
from planner.styles.models.making import Seam as Seam
from planner.styles.models.making import SeamEdge as SeamEdge
from planner.styles.models.making import StyleNotion as StyleNotion
from planner.styles.models.pieces import PatternFile as PatternFile
from planner.styles.models.pieces import Piece as Piece
from planner.styles.models.pieces import PieceOutline as PieceOutline
from planner.styles.models.style import ClothRole as ClothRole
from planner.styles.models.style import Detail as Detail
from planner.styles.models.style import Option as Option
from planner.styles.models.style import Size as Size
from planner.styles.models.style import SizeRange as SizeRange
from planner.styles.models.style import Style as Style
