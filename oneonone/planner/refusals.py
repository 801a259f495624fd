"""What the planner refuses to read: each refusal names the field and what would be accepted."""


class PlannerRefusal(ValueError):
    """Input that cannot be planned. `field` is at fault, `key` its topic, `accepted` would do."""

    def __init__(self, field: str, accepted: str, key: str | None = None) -> None:
        self.field = field
        self.accepted = accepted
        self.key = key
        where = field if key is None else f"{field} of topic {key!r}"
        super().__init__(f"{where}: {accepted}")


class OutOfRange(PlannerRefusal):
    """A number or word outside what the field takes."""


class LeastAboveWanted(PlannerRefusal):
    """The least useful minutes exceed the minutes wanted."""


class DuplicateKey(PlannerRefusal):
    """A key that must be unique stands twice."""


class UnknownKey(PlannerRefusal):
    """A key that names no topic of this meeting."""


class CircleOfAfter(PlannerRefusal):
    """Topics that would each have to come after the other. `circle` holds their keys in order."""

    def __init__(self, circle: tuple[str, ...]) -> None:
        self.circle = circle
        around = " after ".join((*circle, circle[0]))
        super().__init__("after", f"topics in no circle; found {around}")


class OrderAgainstAfter(PlannerRefusal):
    """An order by hand that puts a topic before one it has to come after."""

    def __init__(self, earlier: str, later: str) -> None:
        self.earlier = earlier
        self.later = later
        super().__init__("order", f"an order with {later!r} before {earlier!r}, which comes after it")
