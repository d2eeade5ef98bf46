"""Forms for notions, their colours and their stock; thread is counted in cones too."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from planner.common.fields import FigureField, MetresField, MoneyField, PercentField, QuantityField
from planner.common.forms import PlainWords
from planner.common.meanwhile import Meanwhile
from planner.materials.forms import SAME_NAME, ColourForm, NoteForm, free_name
from planner.materials.models import Notion, NotionColour, StockMove

#: Waste of a new notion: thread chains off, breaks and is sewn again, 10 to 15 %; the rest is cut (common practice).
THREAD_WASTE_PERCENT, USUAL_WASTE_PERCENT = Decimal(15), Decimal(5)


#: The most of a notion that can be noted.
MOST = Decimal("9999999.99")


def amount_field(unit: str | None, display: str, **kwargs: Any) -> FigureField:
    """How much of a notion: a length typed with its unit where it is counted by length, else a number."""
    if unit != Notion.Unit.METRE:
        return QuantityField(**{"maximum": MOST, **kwargs})
    kwargs.pop("whole", None)
    field = MetresField(**{"maximum": MOST, **kwargs})
    field.use_display(display)
    return field


class NotionForm(Meanwhile, PlainWords, forms.ModelForm):
    """A notion with how it is sold."""

    pack_price = MoneyField(label="Price of a pack")
    waste_percent = PercentField(label="Allowance for waste", maximum=100)

    class Meta:
        model = Notion
        fields = [
            "name",
            "kind",
            "unit",
            "supplier",
            "pack",
            "pack_quantity",
            "pack_price",
            "waste_percent",
            "low_quantity",
        ]
        help_texts = {"pack": "For example 25 m roll, 5000 m cone, 100 labels."}
        error_messages = SAME_NAME

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["supplier"].empty_label = "not noted"
        unit = self.data.get(self.add_prefix("unit")) if self.is_bound else self.instance.unit
        bare = "yards" if self.display == "imperial" else "metres"
        self.fields["pack_quantity"] = amount_field(
            unit,
            self.display,
            label="In one pack",
            above=0,
            help_text=f"A length, for example 25 m or 10 yd (a bare number is {bare}); or how many pieces.",
        )
        self.fields["low_quantity"] = amount_field(
            unit, self.display, label="Low when less than", help_text="0 where you never want to be told."
        )
        if self.instance.pk is None:
            self.initial.pop("waste_percent", None)
            waste = self.fields["waste_percent"]
            waste.required = waste.widget.is_required = False
            waste.help_text = (
                f"Left empty: {THREAD_WASTE_PERCENT} % for thread, {USUAL_WASTE_PERCENT} % for anything else."
            )

    def clean_name(self) -> str:
        return free_name(self, Notion)

    def clean_waste_percent(self) -> Decimal:
        """What was typed; for a new notion what its kind usually wastes."""
        typed: Decimal | None = self.cleaned_data["waste_percent"]
        if typed is not None:
            return typed
        is_thread = self.cleaned_data.get("kind") == Notion.Kind.THREAD
        return THREAD_WASTE_PERCENT if is_thread else USUAL_WASTE_PERCENT


class NotionColourForm(ColourForm):
    """A colour of a notion; without a name where colour does not matter."""

    class Meta:
        model = NotionColour
        fields = ["name", "swatch"]
        labels = {"name": "Name of the colour"}
        help_texts = {"name": "Leave it empty where colour does not matter."}

    def clean_name(self) -> str:
        return free_name(self, NotionColour, notion=self.instance.notion)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not cleaned.get("name"):
            cleaned["swatch"] = ""
        return cleaned


class _NotionStockForm(NoteForm):
    """`unit` is the notion's: lengths are typed with units, pieces are whole."""

    quantity_label = ""
    allow_nothing = False

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        bounds: dict[str, Any] = {"minimum": 0} if self.allow_nothing else {"above": 0}
        self.fields["quantity"] = amount_field(
            unit, self.display, label=self.quantity_label, whole=True, maximum=9_999_999, **bounds
        )
        self.order_fields(["quantity", "reason", "note"])


class ReceiveNotionForm(_NotionStockForm):
    """A notion that came in."""

    quantity_label = "How much came in"


class CountNotionForm(_NotionStockForm):
    """What is really there."""

    quantity_label = "What is there now"
    allow_nothing = True

    def __init__(self, *args: Any, kind: str = "", cones: int | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if kind == Notion.Kind.THREAD:
            self.fields["cones"] = QuantityField(
                label="Cones, started ones too",
                whole=True,
                maximum=999,
                required=False,
                initial=cones,
                help_text="A machine needs a cone at every needle and looper at once. Empty where nobody counted.",
            )
            self.order_fields(["quantity", "cones", "note"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        cones, quantity = cleaned.get("cones"), cleaned.get("quantity")
        if cones is not None and quantity is not None:
            cleaned["cones"] = int(cones)
            if not cones and quantity:
                self.add_error("cones", "There is thread, so it is on a cone or more.")
            if cones and not quantity:
                self.add_error("cones", "Without any thread there are no cones of it: 0.")
        return cleaned


class TakeOutNotionForm(_NotionStockForm):
    """What leaves the shelf."""

    quantity_label = "How much is taken out"
    reason = forms.ChoiceField(
        label="Why", choices=[(c.value, c.label) for c in (StockMove.Reason.DAMAGED, StockMove.Reason.USED)]
    )
