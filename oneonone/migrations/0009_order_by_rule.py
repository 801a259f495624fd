"""The order by rank: *first* that became *in turn*, what was moved by hand; no least shares of the time."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("oneonone", "0008_mails_looked_at")]

    operations = [
        migrations.RemoveField("line", "manager_floor_percent"),
        migrations.RemoveField("line", "report_floor_percent"),
        migrations.AddField("importance", "was_first", models.BooleanField(default=False)),
        migrations.AddConstraint(
            "importance",
            models.CheckConstraint(
                condition=models.Q(("was_first", False), ("level", "in_turn"), _connector="OR"),
                name="importance_was_first_is_in_turn",
            ),
        ),
        migrations.AddField(
            "order",
            "placement",
            models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="oneonone.placement",
            ),
        ),
        migrations.AddField(
            "order", "was_minute", models.PositiveSmallIntegerField(blank=True, null=True)
        ),
        migrations.AlterField(
            "order",
            "cause",
            models.CharField(
                choices=[
                    ("issued", "issued"),
                    ("started", "issued by starting"),
                    ("moved", "moved by hand"),
                    ("undone", "a move undone"),
                    ("late", "a late topic"),
                    ("changed", "a topic changed"),
                    ("replanned", "put in order anew"),
                ],
                max_length=10,
            ),
        ),
    ]
