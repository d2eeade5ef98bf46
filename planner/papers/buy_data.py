"""What the buy list is drawn from: one line for each thing to buy, with its reckoning."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from planner.papers.data import Heading

#: What stock is called: all that lies there; of a batch what lies there for it, as its page says.
IN_STOCK, THERE_FOR_IT = "in stock", "there for it"


@dataclass(frozen=True)
class BuyFigures:
    """The reckoning of one thing to buy, as it is printed, in `unit`.

    `need` = `before` × `factor` + `lost`, rounded up, or to the nearest whole where waste is added to what is counted.
    `before` is the need without waste, None where only the whole is known; `lost` are metres of a cloth that are lost
    at flaws of its rolls. Short = need − in stock. `packs` of `pack` are bought, `bought` in all; left over = in stock
    + bought − need. `words` tells it in one line.

    Of what is in stock for a batch, `met` was cut or taken for it already, and `coming` is left of what is to be bought
    for others: neither lies on the shelf.
    """

    unit: str
    before: Decimal | None
    factor: Decimal
    need: Decimal
    in_stock: Decimal
    short: Decimal
    pack: Decimal
    packs: Decimal
    bought: Decimal
    left: Decimal
    words: str
    lost: Decimal = Decimal(0)
    met: Decimal = Decimal(0)
    coming: Decimal = Decimal(0)

    @property
    def on_shelf(self) -> Decimal:
        """What of the stock lies there."""
        return max(self.in_stock - self.met - self.coming, Decimal(0)).normalize() + Decimal(0)


@dataclass(frozen=True)
class BuyLine:
    """One thing to buy. `price` is a bare amount, "" where none is noted; the list says its currency once."""

    supplier: str
    item: str
    colour: str
    need: str
    in_stock: str
    to_buy: str
    price: str
    note: str = ""
    short: str = ""
    left: str = ""
    figures: BuyFigures | None = None


@dataclass(frozen=True)
class BuyList:
    """What to order, grouped by supplier when printed. `unpriced` says what the total leaves out, having no price.

    `for_batch`: it is for one batch alone, so that stock is what is there for it, else all that lies there.
    """

    heading: Heading
    lines: tuple[BuyLine, ...]
    total: str
    currency: str
    unpriced: str = ""
    for_batch: bool = False
