"""Single-key shortcuts do not exist, so nobody has to turn them off."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("accounts", "0001_initial")]

    operations = [migrations.RemoveField(model_name="person", name="single_keys")]
