"""From the plain data of the fixture to rows, each remembered by its name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import User
from django.utils import timezone

from planner.materials.models import (
    Fabric,
    FabricColour,
    Machine,
    MachineStitch,
    Notion,
    NotionColour,
    Roll,
    StockMove,
    Supplier,
    Workroom,
)
from planner.orders.models import Customer
from planner.styles.models import (
    Band,
    ClothRole,
    Colourway,
    ColourwayCloth,
    ColourwayThread,
    Detail,
    Operation,
    Option,
    Piece,
    PieceOutline,
    Seam,
    SeamEdge,
    Size,
    SizeRange,
    Style,
    StyleNotion,
)
from planner.web.demo_batches import Nest, make_batches
from planner.web.demo_orders import close_orders, make_orders
from planner.web.demo_patterns import read_pieces

Data = Mapping[str, Any]


@dataclass(frozen=True)
class DemoLoaded:
    """How many of each were made."""

    styles: int
    outlines: int
    fabrics: int
    notions: int
    rolls: int
    customers: int
    orders: int
    garments: int
    batches: int


class Loader:
    """Makes rows of the fixture's data and remembers them by their names."""

    def __init__(self, today: date, person: User | None, nest: Nest) -> None:
        self.today, self.person, self.nest = today, person, nest
        self.suppliers: dict[str, Supplier] = {}
        self.cloths: dict[tuple[str, str], FabricColour] = {}
        self.notions: dict[tuple[str, str], NotionColour] = {}
        self.machines: dict[str, Machine] = {}
        self.sizes: dict[tuple[str, str], Size] = {}
        self.ranges: dict[str, SizeRange] = {}
        self.outlines: list[PieceOutline] = []

    def load(self, data: Data) -> DemoLoaded:
        """Everything, in the order in which one leans on another."""
        Workroom.objects.update_or_create(pk=1, defaults=_fields(data["workroom"]))
        rows = Supplier.objects.bulk_create(Supplier(**row) for row in data["suppliers"])
        self.suppliers = {row.name: row for row in rows}
        self._fabrics(data["fabrics"])
        self._notions(data["notions"])
        self._machines(data["machines"])
        rolls = self._stock(data)
        self._size_ranges(data["size_ranges"])
        styles = {row["number"]: self._style(row) for row in data["styles"]}
        PieceOutline.objects.bulk_create(self.outlines)
        customers = Customer.objects.bulk_create(Customer(**row) for row in data["customers"])
        garments = make_orders(
            data["orders"],
            today=self.today,
            person=self.person,
            customers={row.name: row for row in customers},
            styles=styles,
            sizes=self.sizes,
        )
        batches = make_batches(self.today, self.nest, self.person)
        close_orders(data["orders"], self.today)
        return DemoLoaded(
            styles=len(styles),
            outlines=len(self.outlines),
            fabrics=len(data["fabrics"]),
            notions=len(data["notions"]),
            rolls=rolls,
            customers=len(customers),
            orders=len(data["orders"]),
            garments=garments,
            batches=len(batches),
        )

    def _fabrics(self, rows: Sequence[Data]) -> None:
        fabrics = Fabric.objects.bulk_create(
            Fabric(**_fields(row, "supplier", "colours"), supplier=self.suppliers[row["supplier"]])
            for row in rows
        )
        colours = FabricColour.objects.bulk_create(
            FabricColour(fabric=fabric, **colour)
            for fabric, row in zip(fabrics, rows, strict=True)
            for colour in row["colours"]
        )
        self.cloths = {(colour.fabric.name, colour.name): colour for colour in colours}

    def _notions(self, rows: Sequence[Data]) -> None:
        notions = Notion.objects.bulk_create(
            Notion(**_fields(row, "supplier", "colours"), supplier=self.suppliers[row["supplier"]])
            for row in rows
        )
        colours = NotionColour.objects.bulk_create(
            NotionColour(notion=notion, **colour)
            for notion, row in zip(notions, rows, strict=True)
            for colour in row["colours"]
        )
        self.notions = {(colour.notion.name, colour.name): colour for colour in colours}

    def _machines(self, rows: Sequence[Data]) -> None:
        machines = Machine.objects.bulk_create(Machine(**_fields(row, "stitches")) for row in rows)
        MachineStitch.objects.bulk_create(
            MachineStitch(
                machine=machine,
                **_fields(stitch, "measured_days_ago"),
                measured_on=self._day(-stitch["measured_days_ago"]) if stitch["measured_days_ago"] else None,
            )
            for machine, row in zip(machines, rows, strict=True)
            for stitch in row["stitches"]
        )
        self.machines = {machine.name: machine for machine in machines}

    def _stock(self, data: Data) -> int:
        rows = data["rolls"]
        rolls = Roll.objects.bulk_create(
            Roll(
                fabric_colour=self.cloths[row["fabric"], row["colour"]],
                number=row["number"],
                shade_lot=row["shade_lot"],
            )
            for row in rows
        )
        moves = [
            self._move(row["metres"], "bought", row["days_ago"], roll=roll, fabric_colour=roll.fabric_colour)
            for roll, row in zip(rolls, rows, strict=True)
        ]
        for row in data["notion_stock"]:
            colour = self.notions[row["notion"], row["colour"]]
            moves.append(self._move(row["quantity"], "counted", 60, notion_colour=colour))
            colour.cones = row["cones"]
        NotionColour.objects.bulk_update(self.notions.values(), ["cones"])
        StockMove.objects.bulk_create(moves)
        return len(rolls)

    def _move(self, quantity: str, reason: str, days_ago: int, **of: Any) -> StockMove:
        noon = datetime.combine(
            self.today - timedelta(days=days_ago), time(12), tzinfo=timezone.get_current_timezone()
        )
        return StockMove(quantity=Decimal(quantity), reason=reason, moved_at=noon, person=self.person, **of)

    def _size_ranges(self, rows: Sequence[Data]) -> None:
        for row in rows:
            size_range = self.ranges[row["name"]] = SizeRange.objects.create(name=row["name"])
            sizes = Size.objects.bulk_create(
                Size(size_range=size_range, name=name, position=i) for i, name in enumerate(row["sizes"])
            )
            self.sizes.update({(row["name"], size.name): size for size in sizes})

    def _style(self, row: Data) -> Style:
        style = Style.objects.create(
            number=row["number"],
            name=row["name"],
            note=row["note"],
            size_range=self.ranges[row["size_range"]],
            base_size=self.sizes[row["size_range"], row["base_size"]],
        )
        made = ClothRole.objects.bulk_create(
            ClothRole(style=style, name=name, position=i) for i, name in enumerate(row["roles"])
        )
        roles = {role.name: role for role in made}
        options = self._options(style, row["details"])
        pieces = self._pieces(style, row, roles, options)
        self._sewing(style, row, pieces, options)
        self._colourways(style, row["colourways"], roles)
        return style

    def _options(self, style: Style, rows: Sequence[Data]) -> dict[tuple[str, str], Option]:
        details = Detail.objects.bulk_create(
            Detail(style=style, name=row["name"], position=i) for i, row in enumerate(rows)
        )
        options = Option.objects.bulk_create(
            Option(detail=detail, name=name, position=i)
            for detail, row in zip(details, rows, strict=True)
            for i, name in enumerate(row["options"])
        )
        return {(option.detail.name, option.name): option for option in options}

    def _pieces(
        self,
        style: Style,
        row: Data,
        roles: Mapping[str, ClothRole],
        options: Mapping[tuple[str, str], Option],
    ) -> dict[str, Piece]:
        pieces = Piece.objects.bulk_create(
            Piece(
                style=style,
                **_fields(piece, "role", "option"),
                role=roles[piece["role"]],
                option=_chosen(piece, options),
                position=i,
            )
            for i, piece in enumerate(row["pieces"])
        )
        drawn = read_pieces(row["pattern"])
        self.outlines += [
            PieceOutline(
                piece=piece,
                size=self.sizes[row["size_range"], size],
                shape=read.outline.as_json(),
                area_mm2=read.outline.area_mm2,
                marks=read.marks.as_json(),
                source=row["pattern"],
            )
            for piece in pieces
            for size, read in drawn[piece.name].items()
        ]
        return {piece.name: piece for piece in pieces}

    def _sewing(
        self, style: Style, row: Data, pieces: Mapping[str, Piece], options: Mapping[tuple[str, str], Option]
    ) -> None:
        operations = Operation.objects.bulk_create(
            Operation(
                style=style,
                **_fields(step, "option", "own_machine"),
                own_machine=self.machines[step["own_machine"]] if step["own_machine"] else None,
                option=_chosen(step, options),
                position=i,
            )
            for i, step in enumerate(row["operations"])
        )
        by_name = {operation.name: operation for operation in operations}
        seams = Seam.objects.bulk_create(
            Seam(
                style=style,
                name=seam["name"],
                option=_chosen(seam, options),
                times=seam["times"],
                ratio=Decimal(seam["ratio"]),
                fullness=seam["fullness"],
                operation=by_name[seam["operation"]],
                position=i,
            )
            for i, seam in enumerate(row["seams"])
        )
        SeamEdge.objects.bulk_create(
            SeamEdge(seam=seam, piece=pieces[piece], edge=edge, side=side, takes=takes, position=i)
            for seam, data in zip(seams, row["seams"], strict=True)
            for i, (piece, edge, side, takes) in enumerate(data["edges"])
        )
        seam_by_name = {seam.name: seam for seam in seams}
        Band.objects.bulk_create(
            Band(
                piece=pieces[band["piece"]], seam=seam_by_name[band["seam"]], **_fields(band, "piece", "seam")
            )
            for band in row["bands"]
        )
        StyleNotion.objects.bulk_create(
            StyleNotion(
                style=style,
                **_fields(use, "notion", "seam", "option"),
                notion_colour=self.notions[use["notion"], ""],
                seam=seam_by_name[use["seam"]] if use["seam"] else None,
                option=_chosen(use, options),
            )
            for use in row["notions"]
        )

    def _colourways(self, style: Style, rows: Sequence[Data], roles: Mapping[str, ClothRole]) -> None:
        colourways = Colourway.objects.bulk_create(
            Colourway(style=style, name=row["name"], thread=self.notions[tuple(row["thread"])], position=i)
            for i, row in enumerate(rows)
        )
        ColourwayCloth.objects.bulk_create(
            ColourwayCloth(colourway=colourway, role=roles[role], fabric_colour=self.cloths[tuple(cloth)])
            for colourway, row in zip(colourways, rows, strict=True)
            for role, cloth in row["cloths"].items()
        )

        ColourwayThread.objects.bulk_create(
            ColourwayThread(colourway=colourway, position=place, notion_colour=self.notions[tuple(thread)])
            for colourway, row in zip(colourways, rows, strict=True)
            for place, thread in row["threads"].items()
        )

    def _day(self, days: int) -> date:
        return self.today + timedelta(days=days)


def _fields(row: Data, *without: str) -> dict[str, Any]:
    """The row's own columns."""
    return {key: value for key, value in row.items() if key not in without}


def _chosen(row: Data, options: Mapping[tuple[str, str], Option]) -> Option | None:
    return options[tuple(row["option"])] if row["option"] else None
