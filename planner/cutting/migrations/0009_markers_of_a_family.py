"""Which markers are of the same pieces in whatever sizes; reckoned for those there are from their questions."""

import hashlib
import json

from django.db import migrations, models


def fill_in(apps, schema_editor):
    """As `planner.core.lays.stored.family_of` did when this was written."""
    markers = apps.get_model("cutting", "Marker").objects
    for pk in list(markers.filter(family="").values_list("pk", flat=True)):
        job = markers.values_list("job", flat=True).get(pk=pk)
        items = job.get("items", [])
        if not items or any(item.get("beside") or item.get("matches") for item in items):
            continue
        pieces = sorted([i["style"], i["piece"], i["mirrored"], i["may_turn"]] for i in items)
        text = json.dumps([job["one_way"], pieces])
        markers.filter(pk=pk).update(family=hashlib.sha256(text.encode()).hexdigest())


class Migration(migrations.Migration):
    dependencies = [
        ("cutting", "0008_aim_by_stock"),
    ]

    operations = [
        migrations.AddField(
            model_name="marker",
            name="family",
            field=models.CharField(
                blank=True,
                db_index=True,
                help_text="alike where the same pieces are laid, in any sizes",
                max_length=64,
            ),
        ),
        migrations.RunPython(fill_in, migrations.RunPython.noop),
    ]
