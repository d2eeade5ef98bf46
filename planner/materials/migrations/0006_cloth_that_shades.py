"""Cloth says itself that it shades; where a style marks pieces as side by side, its cloths shade."""

from django.db import migrations, models
from django.db.models import Q

#: As many letters of its name are the word of a pair that is cut together, which needs no cloth that shades.
WORD = 20


def mark_cloths(apps, schema_editor):
    """So that no rule that held is lost: until now pieces marked so lay side by side on every cloth."""
    piece_rows = apps.get_model("styles", "Piece").objects.exclude(beside="")
    cloths = apps.get_model("styles", "ColourwayCloth").objects
    fabrics = apps.get_model("materials", "Fabric").objects
    for piece in piece_rows.select_related("role"):
        if piece.pair and piece.beside == piece.name[:WORD]:
            continue
        own_or_built_on_it = Q(colourway__style=piece.style_id) | Q(colourway__style__base=piece.style_id)
        filled = cloths.filter(own_or_built_on_it, role__name=piece.role.name)
        fabrics.filter(pk__in=filled.values("fabric_colour__fabric")).update(shades=True)


class Migration(migrations.Migration):
    dependencies = [
        ("materials", "0005_sums_of_stock"),
        ("styles", "0005_beside_and_matching"),
    ]

    operations = [
        migrations.AddField(
            model_name="fabric",
            name="shades",
            field=models.BooleanField(
                default=False, verbose_name="its colour is not quite the same all over"
            ),
        ),
        migrations.RunPython(mark_cloths, migrations.RunPython.noop),
    ]
