"""Pieces of the pages about signing in."""

from __future__ import annotations

from xml.etree import ElementTree  # reads only what this process has just drawn

from django import template
from django.conf import settings

register = template.Library()

SVG = "{http://www.w3.org/2000/svg}"


@register.inclusion_tag("elements/qr_picture.html")
def qr_picture(svg: str, *, label: str) -> dict[str, str]:
    """The path of a QR code in markup of ours: the policy of these pages allows no ``data:`` image.

    ``label`` says what the picture is to whoever does not see it.
    """
    drawn = ElementTree.fromstring(svg)  # noqa: S314
    path = drawn.find(f"{SVG}path")
    if path is None:
        raise ValueError("The drawing of a QR code has one path.")
    return {"view_box": drawn.attrib["viewBox"], "path": path.attrib["d"], "label": label}


@register.simple_tag
def mail_can_leave() -> bool:
    """Whether this server can send mail at all; without it a code would be promised and never come."""
    return bool(settings.MAIL_CAN_LEAVE)
