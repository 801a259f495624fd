"""A notice to whoever's password was set with a link."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("oneonone", "0008_mails_looked_at"),
    ]

    operations = [
        migrations.AlterField(
            model_name="notice",
            name="kind",
            field=models.CharField(
                choices=[
                    ("invite", "topics are asked for"),
                    ("issued", "the order is issued"),
                    ("today", "the one-on-one is today"),
                    ("record", "look at the record"),
                    ("moved", "the time has changed"),
                    ("extra", "an extra one-on-one is planned"),
                    ("clocks", "the clocks change otherwise than was known"),
                    ("called_off", "a one-on-one is called off"),
                    ("unanswered", "did you meet?"),
                    ("left_open", "a meeting was left under way"),
                    ("cadence", "the interval runs out"),
                    ("commitment", "a commitment is due"),
                    ("offered", "a commitment is offered"),
                    ("proposal", "waits for your answer"),
                    ("declined", "a proposed time is declined"),
                    ("third_time", "unheard three times"),
                    ("joined", "the other side has joined"),
                    ("line_ended", "a reporting line has ended"),
                    ("factor_taken", "an administrator took the second factors away"),
                    ("factor_reset", "one took somebody's second factors away"),
                    ("new_password", "the password was set with a link"),
                ],
                max_length=12,
            ),
        ),
    ]
