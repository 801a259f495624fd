"""Commitments in templates: ``{% load commitments %}``."""

from collections.abc import Mapping
from uuid import UUID

from django import template

from oneonone.selectors.commitments.plans import NOTHING, Plan

register = template.Library()


@register.filter
def plan_at(plans: Mapping[UUID, Plan], commitment_id: UUID) -> Plan:
    """The reader's plan for a commitment, an empty one where there is none."""
    return plans.get(commitment_id, NOTHING)
