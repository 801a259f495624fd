"""The order by rank: *first* that became *in turn*, what was moved by hand; no least shares of the time."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models

# Reasons of stored orders as the planner before this one gave them, and what they are called now. Those that
# say nothing that is still true become "in turn" and "no place was found".
PLACES = {"running": "running", "agreed_slot": "agreed", "by_hand": "by_hand", "after": "after", "before": "before"}
LEFT_OUT = {
    "too_long": "too_long",
    "predecessor": "predecessor",
    "no_minutes": "no_room",
    "no_gap": "no_room",
}
WAYS_OUT = ("not_must", "lengthen")


def translated(plan: dict[str, Any]) -> dict[str, Any]:
    """A stored plan in the form that the planner reads now. One that it wrote itself stays as it is."""
    if "given_up" in plan:
        return plan
    return {
        "slots": [slot | {"reason": _reason(slot["reason"], PLACES, "in_turn")} for slot in plan["slots"]],
        "left_out": [
            out | {"reason": _reason(out["reason"], LEFT_OUT, "not_found")} for out in plan["left_out"]
        ],
        "worth": [0, 0, 0],
        "unproven": "0",
        "given_up": [],
        "infeasible": plan["shortage"],
        "ways_out": [way for way in plan["ways_out"] if way["code"] in WAYS_OUT],
    }


def _reason(reason: dict[str, Any], known: dict[str, str], otherwise: str) -> dict[str, Any]:
    if reason["code"] not in known:
        return {"code": otherwise, "numbers": [], "keys": []}
    keys = [] if reason["code"] == "by_hand" else reason["keys"]
    return {"code": known[reason["code"]], "numbers": reason["numbers"], "keys": keys}


def translate(apps: Any, schema_editor: Any) -> None:
    """Every stored version of an order."""
    orders = apps.get_model("oneonone", "Order").objects.using(schema_editor.connection.alias)
    for order in orders.only("pk", "plan").iterator():
        plan = translated(order.plan)
        if plan is not order.plan:
            orders.filter(pk=order.pk).update(plan=plan)


class Migration(migrations.Migration):
    dependencies = [("oneonone", "0008_mails_looked_at")]

    operations = [
        migrations.RemoveField("line", "manager_floor_percent"),
        migrations.RemoveField("line", "report_floor_percent"),
        migrations.AddField("importance", "was_first", models.BooleanField(default=False)),
        migrations.AddConstraint(
            "importance",
            models.CheckConstraint(
                condition=models.Q(("was_first", False), ("level", "in_turn"), _connector="OR"),
                name="importance_was_first_is_in_turn",
            ),
        ),
        migrations.AddField(
            "order",
            "placement",
            models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="oneonone.placement",
            ),
        ),
        migrations.AddField(
            "order", "was_minute", models.PositiveSmallIntegerField(blank=True, null=True)
        ),
        migrations.AlterField(
            "order",
            "cause",
            models.CharField(
                choices=[
                    ("issued", "issued"),
                    ("started", "issued by starting"),
                    ("moved", "moved by hand"),
                    ("undone", "a move undone"),
                    ("late", "a late topic"),
                    ("changed", "a topic changed"),
                    ("replanned", "put in order anew"),
                ],
                max_length=10,
            ),
        ),
        migrations.RunPython(translate, migrations.RunPython.noop),
    ]
