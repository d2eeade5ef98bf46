"""The kinds of parts a style has, and how each is entered: one table, not seven times the same views."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.db import models

from planner.styles import part_forms as forms
from planner.styles.colourway_form import ColourwayForm
from planner.styles.detail_forms import DetailForm
from planner.styles.models import ClothRole, Colourway, Detail, Operation, Piece, Seam, Style, StyleNotion
from planner.styles.operation_forms import OperationForm
from planner.styles.seam_forms import SeamForm


@dataclass(frozen=True)
class Part:
    """A kind of part. `section` of the style's page shows it; `also` are sections that repeat some of it."""

    slug: str
    word: str
    model: type[models.Model]
    form: type[forms.PartForm]
    section: str
    also: tuple[str, ...] = ()

    def of(self, style: Style) -> models.QuerySet:
        """The parts of this kind that a style has."""
        return self.model._default_manager.filter(style=style)


PARTS: Mapping[str, Part] = {
    part.slug: part
    for part in (
        Part("role", "cloth role", ClothRole, forms.RoleForm, "roles", ("pieces", "colourways")),
        Part(
            "detail",
            "detail",
            Detail,
            DetailForm,
            "details",
            ("pieces", "seams", "operations", "notions"),
        ),
        Part("piece", "piece", Piece, forms.PieceForm, "pieces", ("outlines", "seams")),
        Part("operation", "operation", Operation, OperationForm, "operations", ("seams",)),
        Part("seam", "seam", Seam, SeamForm, "seams", ("notions",)),
        Part("notion", "notion", StyleNotion, forms.NotionForm, "notions"),
        Part("colourway", "colourway", Colourway, ColourwayForm, "colourways"),
    )
}

#: Sections of the style's page in order, with their titles.
SECTIONS: Mapping[str, str] = {
    "pieces": "Pieces",
    "outlines": "Outlines",
    "sizes": "Sizes",
    "roles": "Cloth roles",
    "details": "Details and options",
    "colourways": "Colourways",
    "operations": "Operations in order",
    "seams": "Seams",
    "notions": "Notions",
    "coverage": "What can be planned",
}
