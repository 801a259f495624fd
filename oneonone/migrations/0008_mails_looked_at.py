"""When an administrator has looked at a mail that failed, or of which nobody knows whether it arrived."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("oneonone", "0007_notices_about_people")]

    operations = [
        migrations.AddField("mail", "looked_at", models.DateTimeField(blank=True, null=True)),
    ]
