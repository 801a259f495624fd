"""A mail is claimed before its text leaves, and that is a state of its own."""

from django.db import migrations, models

STATES = ("queued", "claimed", "sending", "sent", "failed", "cancelled", "unknown")


class Migration(migrations.Migration):
    dependencies = [("oneonone", "0009_next_meeting")]

    operations = [
        migrations.AlterField(
            "mail",
            "state",
            models.CharField(choices=[(state, state) for state in STATES], default="queued", max_length=10),
        ),
    ]
