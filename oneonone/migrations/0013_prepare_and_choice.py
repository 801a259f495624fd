"""The reminder that the last day to prepare has begun, and the question about what was carried twice."""

from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('oneonone', '0012_mail_wishes'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='meeting',
            name='prepare_version',
            field=models.PositiveIntegerField(default=0),
        ),
        migrations.AlterField(
            model_name='notice',
            name='kind',
            field=models.CharField(choices=[('invite', 'topics are asked for'), ('issued', 'the order is issued'), ('prepare', 'the last day to prepare'), ('today', 'the one-on-one is today'), ('record', 'look at the record'), ('moved', 'the time has changed'), ('extra', 'an extra one-on-one is planned'), ('clocks', 'the clocks change otherwise than was known'), ('called_off', 'a one-on-one is called off'), ('unanswered', 'did you meet?'), ('left_open', 'a meeting was left under way'), ('cadence', 'the interval runs out'), ('commitment', 'a commitment is due'), ('choice', 'a commitment was carried twice'), ('offered', 'a commitment is offered'), ('proposal', 'waits for your answer'), ('declined', 'a proposed time is declined'), ('third_time', 'unheard three times'), ('joined', 'the other side has joined'), ('line_ended', 'a reporting line has ended'), ('factor_taken', 'an administrator took the second factors away'), ('factor_reset', "one took somebody's second factors away")], max_length=12),
        ),
        migrations.AddIndex(
            model_name='meeting',
            index=models.Index(condition=models.Q(('prepare_version__lt', models.F('schedule_version')), ('state', 'issued')), fields=['prepare_by_at'], name='meeting_to_prepare_for'),
        ),
    ]
