"""Bands cut to measure: a piece follows from the opening it finishes, or is drawn again."""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction
from django.db.models import Max

from planner.styles.actions.results import Done
from planner.styles.models import Band, Piece, Seam, SeamEdge


@transaction.atomic
def cut_to_measure(
    piece: Piece,
    seam: Seam,
    *,
    finished_width_mm: Decimal,
    turn_rad: float,
    ratio: Decimal | None = None,
    folded: bool = True,
    over_head: bool = False,
) -> Done:
    """From now on the piece is cut to the opening that the first side of the seam is.

    Where the seam does not join the piece yet, it becomes its second side, its edge called as the opening is.
    Outlines that were drawn for it stay stored and are not used.
    """
    Band.objects.update_or_create(
        piece=piece,
        defaults={
            "seam": seam,
            "finished_width_mm": finished_width_mm,
            "folded": folded,
            "ratio": ratio,
            "turn_rad": turn_rad,
            "over_head": over_head,
        },
    )
    if not piece.is_band:
        piece.is_band = True
        piece.save(update_fields=["is_band"])
    edges = seam.edges.all()
    if not edges.filter(piece=piece).exists():
        opening = edges.filter(side=1).first()
        last = edges.aggregate(last=Max("position"))["last"]
        SeamEdge.objects.create(
            seam=seam,
            piece=piece,
            edge=opening.edge if opening else "seam edge",
            side=2,
            position=(last or 0) + 1,
        )
    return Done(f"{piece.name} is cut to measure for {seam.name}.")


@transaction.atomic
def draw_again(piece: Piece) -> Done:
    """The piece is cut by its drawn outlines again, as far as it has any."""
    Band.objects.filter(piece=piece).delete()
    left = "its outlines are those drawn before" if piece.outlines.exists() else "it needs outlines now"
    return Done(f"{piece.name} is not cut to measure any more; {left}.")
