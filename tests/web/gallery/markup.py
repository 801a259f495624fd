"""A page read back as its elements, for checks that hold for any page."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"area", "base", "br", "col", "hr", "img", "input", "link", "meta", "source", "wbr"}


@dataclass
class Node:
    tag: str
    attributes: dict[str, str]
    text: str = ""
    children: list["Node"] = field(default_factory=list)

    def words(self) -> str:
        """Everything a reader can read in it, with single spaces."""
        return " ".join(f"{self.text} {' '.join(child.words() for child in self.children)}".split())

    def all(self, tag: str = "", **attributes: str) -> list["Node"]:
        """Itself and everything inside with this tag and these attributes (``class_`` asks for one class)."""
        wanted = {name.rstrip("_").replace("_", "-"): value for name, value in attributes.items()}
        found = [self] if (not tag or self.tag == tag) and self._has(wanted) else []
        for child in self.children:
            found += child.all(tag, **attributes)
        return found

    def one(self, tag: str = "", **attributes: str) -> "Node":
        found = self.all(tag, **attributes)
        assert len(found) == 1, f"{len(found)} of <{tag}> with {attributes}"
        return found[0]

    def _has(self, wanted: dict[str, str]) -> bool:
        return all(
            value in self.attributes.get(name, "").split()
            if name == "class"
            else self.attributes.get(name) == value
            for name, value in wanted.items()
        )


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.root = Node("", {})
        self.open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        node = Node(tag, {name: value or "" for name, value in attrs})
        self.open[-1].children.append(node)
        if tag not in VOID:
            self.open.append(node)

    def handle_endtag(self, tag: str) -> None:
        assert self.open[-1].tag == tag, f"</{tag}> closes <{self.open[-1].tag}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        # Text between elements is kept as a node of its own, so that words stay in their order.
        self.open[-1].children.append(Node("#text", {}, data))


def read(html: str) -> Node:
    """The page as a tree; a tag closed in the wrong place is refused."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    assert reader.open == [reader.root], f"<{reader.open[-1].tag}> is never closed"
    return reader.root
