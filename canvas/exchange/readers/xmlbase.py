"""Walking XML safely: no document types, no entities, no memory kept of what is done with."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any, Protocol
from xml.etree.ElementTree import ParseError

from canvas.base.errors import BadData


class Node(Protocol):
    """An XML element, as far as readers use it."""

    tag: str
    text: str | None

    def get(self, key: str, default: str = "") -> str:
        """Return an attribute."""

    def iter(self) -> Iterator[Node]:
        """Yield this element and all below it."""

    def clear(self) -> None:
        """Forget what is below."""

    def __iter__(self) -> Iterator[Node]: ...


def local(tag: object) -> str:
    """Return a tag's name without its namespace."""
    return tag.rpartition("}")[2] if isinstance(tag, str) else ""


def child(node: Node, name: str) -> Node | None:
    """Return the first child called `name`, or None."""
    return next((each for each in node if local(each.tag) == name), None)


def words(node: Node | None, name: str = "") -> str:
    """Return the text of an element, or of its child called `name`; "" where there is none."""
    found = child(node, name) if node is not None and name else node
    return (found.text or "").strip() if found is not None else ""


def walk(source: Path | IO[bytes], root_name: str) -> Iterator[tuple[str, Node]]:
    """Yield ("start" or "end", element) through a document whose root is `root_name`.

    Raises
    ------
    BadData
        Not sound XML, another root, or a document type or entity in it.
    """
    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import iterparse

    first = True
    try:
        steps: Any = iterparse(
            source if not isinstance(source, Path) else str(source),
            events=("start", "end"),
            forbid_dtd=True,
        )
        for event, node in steps:
            if first and local(node.tag).lower() != root_name:
                raise BadData(
                    f"this is XML but not {root_name.upper()}: it begins with <{local(node.tag)}>",
                    remedy="Check that the file is of the kind its name says.",
                )
            first = False
            yield event, node
    except DefusedXmlException as error:
        raise BadData(
            "the file defines XML entities or a document type, which can be used to harm a "
            "computer; it was not read",
            remedy="Save it afresh without them.",
        ) from error
    except ParseError as error:
        raise BadData(
            f"this is not sound XML: {error}",
            remedy="The file may be cut short: save or fetch it again.",
        ) from error
    except (LookupError, UnicodeError, ValueError) as error:
        raise BadData(
            f"the text is in an encoding that can't be read ({error})",
            remedy="Save it afresh as UTF-8.",
        ) from error
