"""What is typed about an order as a whole, and about a customer. Lines have a module of their own: drafts."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from planner.common.forms import PlainWords
from planner.common.meanwhile import Meanwhile
from planner.orders.models import Customer, Order


class HeaderForm(PlainWords, forms.Form):
    """Customer, due day and note. A blank customer makes it a stock make."""

    customer = forms.CharField(
        required=False,
        max_length=120,
        help_text="Pick one or type a new name. Leave it blank for a stock make.",
        widget=forms.TextInput(attrs={"list": "customers", "autocomplete": "off", "autocapitalize": "words"}),
    )
    due_on = forms.DateField(label="Due", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    note = forms.CharField(
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Anything the table should know.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["due_on"].error_messages["required"] = "Choose the day it is due."
        self.fields["due_on"].error_messages["invalid"] = (
            "This is no day of the calendar. Choose the day it is due."
        )

    @classmethod
    def of(cls, order: Order) -> HeaderForm:
        """The form as the order stands now."""
        customer = order.customer.name if order.customer else ""
        return cls(initial={"customer": customer, "due_on": order.due_on, "note": order.note})

    def clean_customer(self) -> str:
        """Spaces at the ends or doubled do not make another customer."""
        return " ".join(self.cleaned_data["customer"].split())

    def clean_due_on(self) -> date:
        """A year of two figures is a slip of the keyboard."""
        due_on: date = self.cleaned_data["due_on"]
        if not 2000 <= due_on.year <= 2199:
            raise forms.ValidationError("Type the year with all four figures, such as 2031.")
        return due_on


class CustomerForm(Meanwhile, PlainWords, forms.ModelForm):
    """Name and how to reach them."""

    class Meta:
        model = Customer
        fields = ["name", "contact"]
        help_texts = {"contact": "E-mail, telephone or address, as you like."}
        error_messages = {"name": {"unique": "There is a customer of that name already."}}

    def clean_name(self) -> str:
        """One customer a name, however it is spaced or capitalised."""
        name = " ".join(self.cleaned_data["name"].split())
        others = Customer.objects.called(name).exclude(pk=self.instance.pk)
        if others.exists():
            raise forms.ValidationError("There is a customer of that name already.")
        return name
