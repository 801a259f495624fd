"""What a topic was boxed for when it was taken up, the factors an order was made with, and the server's."""

import uuid

from django.db import migrations, models

KINDS = [
    ("update", "update"),
    ("idea", "idea"),
    ("question", "question"),
    ("obstacle", "obstacle"),
    ("achievement", "achievement"),
    ("feedback", "feedback"),
    ("growth", "growth"),
]


class Migration(migrations.Migration):
    dependencies = [("oneonone", "0004_busy_times_and_clocks")]

    operations = [
        migrations.AddField("order", "factors", models.JSONField(default=dict)),
        migrations.AddField(
            "placement", "minutes_planned", models.PositiveSmallIntegerField(blank=True, null=True)
        ),
        migrations.CreateModel(
            name="KindFactor",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("kind", models.CharField(choices=KINDS, max_length=12, unique=True)),
                ("hundredths", models.PositiveSmallIntegerField()),
                ("lines", models.PositiveIntegerField()),
                ("counted_at", models.DateTimeField()),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(lines__gte=10), name="kind_factor_of_ten_lines_or_more"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(hundredths__gte=50, hundredths__lte=250),
                        name="kind_factor_half_to_two_and_a_half",
                    ),
                ],
            },
        ),
    ]
