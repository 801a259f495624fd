"""Notices of answers and of pauses."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("oneonone", "0008_mails_looked_at")]

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
                    ("agreed", "what one proposed is agreed to"),
                    ("declined", "what one proposed is declined"),
                    ("third_time", "unheard three times"),
                    ("joined", "the other side has joined"),
                    ("paused", "a reporting line is paused"),
                    ("resumed", "a reporting line is no longer paused"),
                    ("line_ended", "a reporting line has ended"),
                    ("factor_taken", "an administrator took the second factors away"),
                    ("factor_reset", "one took somebody's second factors away"),
                ],
                max_length=12,
            ),
        ),
    ]
