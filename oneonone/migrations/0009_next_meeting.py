"""Of the meetings that a line's interval made, one is its next: the database refuses a second."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("oneonone", "0008_mails_looked_at")]

    operations = [
        migrations.AddField("meeting", "is_next", models.BooleanField(default=False)),
        migrations.AddConstraint(
            "meeting",
            models.UniqueConstraint(
                fields=["line"], condition=models.Q(is_next=True), name="meeting_one_next_a_line"
            ),
        ),
    ]
