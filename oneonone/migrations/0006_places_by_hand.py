"""What somebody has given a place by hand, and what was so when a version of the order was made."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("oneonone", "0005_minutes_from_history")]

    operations = [
        migrations.AddField("order", "hand", models.JSONField(default=dict)),
        migrations.AddField("placement", "is_in_by_hand", models.BooleanField(default=False)),
    ]
