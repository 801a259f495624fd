"""What each job finds by is a column with an index: what is due, and what has been done about it."""

import datetime
import uuid
from django.conf import settings
from django.db import migrations, models


def mark_what_was_done(apps, schema_editor):
    """What was owed before is not owed again; each line's standing is looked at when it would have been."""
    Meeting, Notice = apps.get_model("oneonone", "Meeting"), apps.get_model("oneonone", "Notice")
    Line = apps.get_model("oneonone", "Line")
    for kind, done in (
        ("today", {"reminded_version": models.F("schedule_version")}),
        ("unanswered", {"asked_version": models.F("schedule_version")}),
        ("left_open", {"left_asked_at": models.F("began_at")}),
    ):
        told = Notice.objects.filter(
            kind=kind, subject=models.OuterRef("pk"), schedule_version=models.OuterRef("schedule_version")
        )
        Meeting.objects.filter(models.Exists(told)).update(**done)
    nudged = Notice.objects.filter(kind="record", subject=models.OuterRef("pk"))
    Meeting.objects.filter(models.Exists(nudged), state="closed").update(nudged_at=models.F("record_at"))
    looked = apps.get_model("oneonone", "StandingLook").objects.filter(line=models.OuterRef("pk"))
    Line.objects.filter(models.Exists(looked)).update(
        standing_at=models.Subquery(looked.values("again_at")[:1])
    )


class Migration(migrations.Migration):
    dependencies = [
        ("accounts", "0001_initial"),
        ("oneonone", "0010_mail_claimed"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Drain",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("name", models.CharField(max_length=10, unique=True)),
                ("token", models.UUIDField(blank=True, null=True)),
                ("until", models.DateTimeField(blank=True, null=True)),
                ("again", models.BooleanField(default=False)),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.RemoveIndex(
            model_name="commitment",
            name="commitment_to_remind",
        ),
        migrations.RemoveIndex(
            model_name="meeting",
            name="meeting_state_issue",
        ),
        migrations.RemoveIndex(
            model_name="meeting",
            name="meeting_state_invite",
        ),
        migrations.RemoveIndex(
            model_name="meeting",
            name="meeting_state_record",
        ),
        migrations.RemoveIndex(
            model_name="meeting",
            name="meeting_not_carried",
        ),
        migrations.RemoveIndex(
            model_name="notice",
            name="notice_to_mail",
        ),
        migrations.AddField(
            model_name="deferral",
            name="error",
            field=models.CharField(blank=True, default="", max_length=60),
        ),
        migrations.AddField(
            model_name="line",
            name="plan_at",
            field=models.DateTimeField(
                default=datetime.datetime(1970, 1, 1, 0, 0, tzinfo=datetime.timezone.utc), null=True
            ),
        ),
        migrations.AddField(
            model_name="line",
            name="standing_at",
            field=models.DateTimeField(
                default=datetime.datetime(1970, 1, 1, 0, 0, tzinfo=datetime.timezone.utc)
            ),
        ),
        migrations.AddField(
            model_name="meeting",
            name="asked_version",
            field=models.PositiveIntegerField(default=0),
        ),
        migrations.AddField(
            model_name="meeting",
            name="cleared_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="meeting",
            name="left_asked_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="meeting",
            name="nudged_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="meeting",
            name="reminded_version",
            field=models.PositiveIntegerField(default=0),
        ),
        migrations.AlterField(
            model_name="deferral",
            name="until",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddIndex(
            model_name="carry",
            index=models.Index(
                condition=models.Q(("to_meeting__isnull", True)), fields=["commitment"], name="carry_waiting"
            ),
        ),
        migrations.AddIndex(
            model_name="commitment",
            index=models.Index(
                condition=models.Q(("remind_at__isnull", False), ("state", "open")),
                fields=["remind_at"],
                name="commitment_to_remind",
            ),
        ),
        migrations.AddIndex(
            model_name="line",
            index=models.Index(
                condition=models.Q(("ended_at__isnull", True), ("plan_at__isnull", False)),
                fields=["plan_at"],
                name="line_to_plan",
            ),
        ),
        migrations.AddIndex(
            model_name="line",
            index=models.Index(
                condition=models.Q(("ended_at__isnull", True), ("start__in", ("joined", "invited"))),
                fields=["standing_at"],
                name="line_standing_due",
            ),
        ),
        migrations.AddIndex(
            model_name="meeting",
            index=models.Index(
                condition=models.Q(("invited_at__isnull", True), ("state", "planned")),
                fields=["invite_at"],
                name="meeting_to_invite",
            ),
        ),
        migrations.AddIndex(
            model_name="meeting",
            index=models.Index(
                condition=models.Q(("state", "planned")), fields=["issue_at"], name="meeting_to_issue"
            ),
        ),
        migrations.AddIndex(
            model_name="meeting",
            index=models.Index(
                condition=models.Q(
                    ("reminded_version__lt", models.F("schedule_version")),
                    ("state__in", ("planned", "issued")),
                ),
                fields=["starts_at"],
                name="meeting_to_remind_of",
            ),
        ),
        migrations.AddIndex(
            model_name="meeting",
            index=models.Index(
                condition=models.Q(
                    ("asked_version__lt", models.F("schedule_version")), ("state__in", ("planned", "issued"))
                ),
                fields=["starts_at"],
                name="meeting_to_ask_about",
            ),
        ),
        migrations.AddIndex(
            model_name="meeting",
            index=models.Index(
                condition=models.Q(("left_asked_at__isnull", True), ("state", "under_way")),
                fields=["began_at"],
                name="meeting_left_under_way",
            ),
        ),
        migrations.AddIndex(
            model_name="meeting",
            index=models.Index(
                condition=models.Q(("nudged_at__isnull", True), ("state", "closed")),
                fields=["record_at"],
                name="meeting_to_nudge_about",
            ),
        ),
        migrations.AddIndex(
            model_name="meeting",
            index=models.Index(
                condition=models.Q(("cleared_at__isnull", True), ("state__in", ("planned", "issued"))),
                fields=["invite_at"],
                name="meeting_to_clear_before",
            ),
        ),
        migrations.AddIndex(
            model_name="meeting",
            index=models.Index(
                condition=models.Q(("is_next", True), ("state__in", ("planned", "issued"))),
                fields=["starts_at"],
                name="meeting_next_ahead",
            ),
        ),
        migrations.AddIndex(
            model_name="meeting",
            index=models.Index(
                condition=models.Q(
                    ("is_next", True), ("state__in", ("under_way", "closed", "called_off", "not_held"))
                ),
                fields=["starts_at"],
                name="meeting_next_begun",
            ),
        ),
        migrations.AddIndex(
            model_name="meeting",
            index=models.Index(
                condition=models.Q(
                    models.Q(
                        ("state__in", ("closed", "called_off", "not_held")),
                        models.Q(("given_up_at__isnull", False), ("state", "under_way")),
                        _connector="OR",
                    ),
                    ("carried_at__isnull", True),
                ),
                fields=["starts_at"],
                name="meeting_to_carry",
            ),
        ),
        migrations.AddIndex(
            model_name="notice",
            index=models.Index(
                condition=models.Q(("mailed", False)), fields=["owed_at"], name="notice_to_mail"
            ),
        ),
        migrations.AddIndex(
            model_name="proposal",
            index=models.Index(condition=models.Q(("state", "open")), fields=["at"], name="proposal_open"),
        ),
        migrations.RunPython(mark_what_was_done, migrations.RunPython.noop, elidable=True),
        migrations.DeleteModel(
            name="StandingLook",
        ),
    ]
