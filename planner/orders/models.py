"""Customers and their orders. An order without a customer is a stock make."""

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models

from planner.orders.querysets import (
    CustomerQuerySet,
    LineQuantityQuerySet,
    OrderLineQuerySet,
    OrderQuerySet,
)
from planner.styles.models import Colourway, Option, Size, Style


class Customer(models.Model):
    """Somebody who orders."""

    name = models.CharField(max_length=120, unique=True)
    contact = models.CharField(max_length=200, blank=True)

    objects = CustomerQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Order(models.Model):
    """What one customer wants by one day. `version` grows with every change and tells two editors apart."""

    class State(models.TextChoices):
        OPEN = "open", "open"
        DISPATCHED = "dispatched", "dispatched"
        CANCELLED = "cancelled", "cancelled"

    number = models.CharField(max_length=20, unique=True)
    customer = models.ForeignKey(
        Customer, null=True, blank=True, on_delete=models.PROTECT, related_name="orders"
    )
    due_on = models.DateField()
    state = models.CharField(max_length=10, choices=State, default=State.OPEN, db_index=True)
    note = models.TextField(blank=True, max_length=2000)
    version = models.PositiveIntegerField(default=1)
    entered_on = models.DateField()
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    dispatched_on = models.DateField(null=True, blank=True)

    objects = OrderQuerySet.as_manager()

    class Meta:
        ordering = ["due_on", "pk"]
        indexes = [models.Index(fields=["state", "due_on"])]

    def __str__(self) -> str:
        return self.number


class OrderLine(models.Model):
    """One style with its options in one colourway; the quantities stand in a grid of sizes."""

    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="lines")
    style = models.ForeignKey(Style, on_delete=models.PROTECT, related_name="order_lines")
    colourway = models.ForeignKey(Colourway, on_delete=models.PROTECT, related_name="order_lines")
    options = models.ManyToManyField(Option, blank=True, related_name="order_lines")
    position = models.PositiveSmallIntegerField(default=0)

    objects = OrderLineQuerySet.as_manager()

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return f"{self.order} {self.style}"


class LineQuantity(models.Model):
    """How many of one size an order line wants."""

    line = models.ForeignKey(OrderLine, on_delete=models.CASCADE, related_name="quantities")
    size = models.ForeignKey(Size, on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])

    objects = LineQuantityQuerySet.as_manager()

    class Meta:
        ordering = ["size__position"]
        constraints = [models.UniqueConstraint(fields=["line", "size"], name="one_quantity_a_line_and_size")]

    def __str__(self) -> str:
        return f"{self.size} {self.quantity}"
