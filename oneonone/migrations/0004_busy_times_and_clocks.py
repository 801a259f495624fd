"""Busy times of people's own calendars, the clocks that instants were computed with, and proposed times."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

PRIVATE = "oneonone_busyweek"


def enable(apps, schema_editor):
    """As in ``0002_row_level_security``."""
    if schema_editor.connection.vendor != "postgresql":
        return
    schema_editor.execute(f"ALTER TABLE {PRIVATE} ENABLE ROW LEVEL SECURITY")
    schema_editor.execute(f"ALTER TABLE {PRIVATE} FORCE ROW LEVEL SECURITY")
    schema_editor.execute(
        f"CREATE POLICY {PRIVATE}_of_reader ON {PRIVATE}"
        " USING (owner_id = nullif(current_setting('oneonone.person', true), '')::uuid)"
    )


def disable(apps, schema_editor):
    if schema_editor.connection.vendor != "postgresql":
        return
    schema_editor.execute(f"DROP POLICY {PRIVATE}_of_reader ON {PRIVATE}")
    schema_editor.execute(f"ALTER TABLE {PRIVATE} NO FORCE ROW LEVEL SECURITY")
    schema_editor.execute(f"ALTER TABLE {PRIVATE} DISABLE ROW LEVEL SECURITY")


def a_key():
    return models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)


class Migration(migrations.Migration):
    dependencies = [
        ("oneonone", "0003_second_factor_for"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="BusyTimes",
            fields=[
                ("id", a_key()),
                ("read_on", models.DateField()),
                ("oldest_week", models.DateField(db_index=True)),
                ("latest_week", models.DateField()),
                (
                    "owner",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("latest_week__gte", models.F("oldest_week"))),
                        name="busy_times_weeks_in_order",
                    )
                ]
            },
        ),
        migrations.CreateModel(
            name="BusyWeek",
            fields=[
                ("id", a_key()),
                ("blob", models.BinaryField()),
                ("key_number", models.PositiveIntegerField()),
                ("revision", models.PositiveIntegerField(default=1)),
                ("created_on", models.DateField()),
                ("changed_on", models.DateField()),
                ("week", models.DateField()),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("owner", "week"), name="busy_week_once")
                ]
            },
        ),
        migrations.CreateModel(
            name="ZoneRules",
            fields=[
                ("id", a_key()),
                ("zone", models.CharField(max_length=64, unique=True)),
                ("first", models.DateField()),
                ("until", models.DateField()),
                ("offset_minutes", models.SmallIntegerField()),
                ("changes", models.JSONField()),
                ("look_at", models.DateTimeField(db_index=True)),
                ("version", models.PositiveIntegerField(default=1)),
            ],
            options={"abstract": False},
        ),
        migrations.AddField(
            model_name="proposal",
            name="lapses_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddConstraint(
            model_name="proposal",
            constraint=models.UniqueConstraint(
                condition=models.Q(("kind", "time"), ("state", "open")),
                fields=("meeting",),
                name="proposal_one_open_time_a_meeting",
            ),
        ),
        migrations.AddConstraint(
            model_name="proposal",
            constraint=models.UniqueConstraint(
                condition=models.Q(("kind", "extra"), ("state", "open")),
                fields=("line",),
                name="proposal_one_open_extra_a_line",
            ),
        ),
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
                ],
                max_length=12,
            ),
        ),
        migrations.RunPython(enable, disable, elidable=False),
    ]
