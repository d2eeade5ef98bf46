from django.db import migrations, models


def by_the_maker(apps, schema_editor):
    """Until now only she chose another aim than the one a plan began with."""
    apps.get_model("cutting", "CutPlan").objects.exclude(aim="money").update(aim_by="maker")


class Migration(migrations.Migration):
    dependencies = [
        ("cutting", "0007_lost_at_flaws"),
    ]

    operations = [
        migrations.AddField(
            model_name="cutplan",
            name="aim_by",
            field=models.CharField(
                blank=True,
                choices=[("", "nobody yet"), ("stock", "what lies in stock"), ("maker", "the maker")],
                default="",
                help_text="who chose the aim; what lies in stock decides once at most, and never against the maker",
                max_length=5,
            ),
        ),
        migrations.RunPython(by_the_maker, migrations.RunPython.noop),
    ]
