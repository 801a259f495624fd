"""Sessions by a hash of their key, with what is kept in them sealed. Those from before are over."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("accounts", "0001_initial")]

    operations = [
        migrations.CreateModel(
            name="Session",
            fields=[
                ("key_hash", models.CharField(editable=False, max_length=64, primary_key=True, serialize=False)),
                ("payload", models.TextField(editable=False)),
                (
                    "person",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("expires_at", models.DateTimeField(db_index=True, verbose_name="valid until")),
            ],
            options={"verbose_name": "session", "verbose_name_plural": "sessions"},
        ),
    ]
