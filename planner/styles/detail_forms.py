"""The form for a detail: its options, and which of them cannot be had together with options of other details."""

from __future__ import annotations

from typing import Any

from django import forms

from planner.styles.actions import reason_to_keep
from planner.styles.family import options_of
from planner.styles.models import Detail, Option
from planner.styles.part_forms import PartForm

#: Rows offered for new options of a detail.
NEW_OPTIONS = 3


class DetailForm(PartForm):
    """A detail with its options, each in a row of its own so that a new name keeps what belongs to it."""

    template = "styles/detail_fields.html"
    beside_columns = ("option_", "not_with_")

    class Meta:
        model = Detail
        fields = ["name"]
        help_texts = {"name": "A place where the maker offers a choice, for example neck or sleeve."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.options = list(self.instance.options.prefetch_related("not_with")) if self.instance.pk else []
        of_family = [o for o in options_of(self.style) if o.detail_id != self.instance.pk]
        self.others = [(str(option.pk), f"{option.detail.name}: {option.name}") for option in of_family]
        for option in self.options:
            self._add_row(f"option_{option.pk}", f"Option {option.name}", option.name)
            self._add_others(option)
        for i in range(1, NEW_OPTIONS + 1 if self.options else NEW_OPTIONS + 2):
            self._add_row(f"new_{i}", "Further option" if self.options else f"Option {i}", "")
        if self.options:
            first = self.fields[f"option_{self.options[0].pk}"]
            first.help_text = "An empty row takes the option away."
        if self.style.base_id and not self.instance.pk:
            names = self.style.base.details.values_list("name", flat=True)
            said = f"; a new one of these names takes its place here: {', '.join(names)}" if names else ""
            self.fields["name"].help_text = f"{self.style.base.number} has its own{said}."
        self.note_stored()

    def _add_row(self, name: str, label: str, initial: str) -> None:
        field = forms.CharField(max_length=40, required=False, label=label, initial=initial)
        field.validators[0].message = "At most %(limit_value)s letters, please; this has %(show_value)s."
        self.fields[name] = field

    def _add_others(self, option: Option) -> None:
        if self.others:
            self.fields[f"not_with_{option.pk}"] = forms.MultipleChoiceField(
                choices=self.others,
                required=False,
                label=f"{option.name} cannot be had together with",
                initial=[str(other.pk) for other in option.not_with.all()],
                widget=forms.CheckboxSelectMultiple,
                error_messages={"invalid_choice": "Please choose one of the list."},
            )

    @property
    def rows(self) -> list[tuple[Any, Any]]:
        """Each option's row with the boxes of what it cannot be had with (None for a new one)."""
        names = [name for name in self.fields if name.startswith(("option_", "new_"))]
        return [(self[name], self._boxes(name)) for name in names]

    def _boxes(self, name: str) -> Any:
        other = name.replace("option_", "not_with_")
        return self[other] if name.startswith("option_") and other in self.fields else None

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        rows = [name for name in self.fields if name.startswith(("option_", "new_"))]
        seen: set[str] = set()
        for row in rows:
            data[row] = name = " ".join(str(data.get(row) or "").split())
            if name and name.lower() in seen:
                self.add_error(row, f"The option {name} stands there twice.")
            seen.add(name.lower())
        for option in self.options:
            if not data[f"option_{option.pk}"]:
                reason = reason_to_keep(option)
                if reason:
                    self.add_error(f"option_{option.pk}", reason)
        if not any(data[row] for row in rows) and not self.errors:
            self.add_error(rows[0], "Name the options, two or more.")
        return data

    def save(self, commit: bool = True) -> Detail:  # noqa: FBT001, FBT002
        detail = super().save(commit)
        # Two options may change names with each other: rename by way of a name nobody types, with a space before it.
        kept = [option for option in self.options if self.cleaned_data[f"option_{option.pk}"]]
        detail.options.exclude(pk__in=[option.pk for option in kept]).delete()
        for option in kept:
            Option.objects.filter(pk=option.pk).update(name=f" {option.pk}")
        names = [self.cleaned_data[f"option_{option.pk}"] for option in kept]
        for position, (option, name) in enumerate(zip(kept, names, strict=True)):
            Option.objects.filter(pk=option.pk).update(name=name, position=position)
            if f"not_with_{option.pk}" in self.fields:
                # Of what other styles built on the same base exclude, nothing was shown and nothing changes.
                hidden = option.not_with.exclude(pk__in=[pk for pk, _ in self.others])
                shown = map(int, self.cleaned_data[f"not_with_{option.pk}"])
                option.not_with.set([*hidden.values_list("pk", flat=True), *shown])
        new = [self.cleaned_data[row] for row in self.fields if row.startswith("new_")]
        Option.objects.bulk_create(
            Option(detail=detail, name=name, position=position)
            for position, name in enumerate(filter(None, new), len(kept))
        )
        return detail

    def ordered_together(self) -> list[str]:
        """Numbers of open orders that ask for two options which cannot be had together any more."""
        pairs = Option.not_with.through.objects.filter(from_option__detail=self.instance)
        found: set[str] = set()
        for option, other in pairs.values_list("from_option", "to_option"):
            lines = Option.order_lines.rel.related_model.objects  # type: ignore[attr-defined]
            both = lines.filter(order__state="open", options=option).filter(options=other)
            found.update(both.values_list("order__number", flat=True))
        return sorted(found)
