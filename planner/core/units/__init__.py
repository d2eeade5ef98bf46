"""The only place where a unit is parsed, converted or printed; to be imported from here."""

from planner.core.units.areas import area_as_told, area_unit, cm2_in_area_unit, format_area
from planner.core.units.conversion import (
    MM_PER_INCH,
    PACK_NOISE,
    Number,
    kg_in,
    kg_per_m,
    mm_in,
    round_up_to_pack,
    warm_up,
)
from planner.core.units.parsing import (
    LONGEST_TEXT,
    UnitError,
    parse_areal_weight_gsm,
    parse_length_mm,
    parse_mass_kg,
    parse_percent,
    parse_quantity,
)
from planner.core.units.printing import (
    NO_BREAK_SPACE,
    SIXTEENTHS,
    THIN_SPACE,
    Display,
    LengthKind,
    areal_weight_as_typed,
    cloth_as_told_mm,
    format_length,
    format_mass,
    format_metres_told,
    format_money,
    format_thickness,
    format_weight,
    length_as_typed,
    mass_as_typed,
    plain_number,
    round_money,
    sixteenths_of_inch,
)
from planner.core.units.yards import per_yard, pounds_per_yard, yards_as_printed, yards_of

__all__ = [
    "LONGEST_TEXT", "MM_PER_INCH", "NO_BREAK_SPACE", "PACK_NOISE", "SIXTEENTHS", "THIN_SPACE", "Display",
    "LengthKind", "Number", "UnitError", "area_as_told", "area_unit",
    "areal_weight_as_typed", "cloth_as_told_mm", "cm2_in_area_unit",
    "format_area", "format_length", "format_mass", "format_metres_told", "format_money",
    "format_thickness", "format_weight", "kg_in", "kg_per_m", "length_as_typed", "mass_as_typed", "mm_in",
    "parse_areal_weight_gsm", "parse_length_mm", "parse_mass_kg", "parse_percent", "parse_quantity",
    "per_yard", "plain_number", "pounds_per_yard", "round_money", "round_up_to_pack", "sixteenths_of_inch",
    "warm_up", "yards_as_printed", "yards_of",
]  # fmt: skip
