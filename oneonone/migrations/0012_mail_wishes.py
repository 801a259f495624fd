"""When people want their mail of reminders, and of what none; at most one mail of agendas a day."""

import datetime
import django.db.models.deletion
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('accounts', '0001_initial'),
        ('oneonone', '0011_background_work'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='MailWishes',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('digest_at', models.TimeField(default=datetime.time(8, 0))),
                ('off', models.JSONField(blank=True, default=list)),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.RemoveConstraint(
            model_name='mail',
            name='mail_digest_of_a_day',
        ),
        migrations.AlterField(
            model_name='mail',
            name='kind',
            field=models.CharField(choices=[('digest', 'notices of a day'), ('issued', 'agendas of a day'), ('notice', 'one notice at once'), ('account', 'about the account'), ('invitation', 'an invitation to join')], max_length=10),
        ),
        migrations.AddConstraint(
            model_name='mail',
            constraint=models.UniqueConstraint(condition=models.Q(('kind', 'issued')), fields=('person', 'local_day'), name='mail_one_of_agendas_a_day'),
        ),
        migrations.AddConstraint(
            model_name='mail',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ('digest', 'issued')), _negated=True), models.Q(('local_day__isnull', False), ('person__isnull', False)), _connector='OR'), name='mail_digest_of_a_day'),
        ),
        migrations.AddField(
            model_name='mailwishes',
            name='person',
            field=models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
    ]
