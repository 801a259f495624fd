"""How a function becomes an element: its arguments, with what it returns, are the values of its template."""

import inspect
from collections.abc import Callable
from typing import Any

from django import template
from django.template.context import Context
from django.utils.safestring import SafeString

register = template.Library()

Values = dict[str, Any]
Element = Callable[..., Values | None]

_CONTEXT = inspect.Parameter("context", inspect.Parameter.POSITIONAL_OR_KEYWORD)
_CONTENT = inspect.Parameter("content", inspect.Parameter.POSITIONAL_OR_KEYWORD)


def one_of(value: str, allowed: tuple[str, ...], argument: str) -> str:
    """Refuse a word that no style or sentence exists for: it is a mistake in the template that uses it."""
    if value not in allowed:
        raise template.TemplateSyntaxError(f"{argument} is {value!r}; accepted: {', '.join(allowed)}")
    return value


def element(function: Element) -> Element:
    """Register a tag without content, named as the function and rendered by the template of that name.

    The template sees the function's arguments and what it returns, and of the page's context only the CSRF
    token. A function whose first parameter is ``context`` is given the page's context.
    """
    tag = _tag(function)

    def render(context: Context, *args: Any, **kwargs: Any) -> SafeString:
        return tag(context, {}, args, kwargs)

    _name(render, function, _CONTEXT)
    register.simple_tag(takes_context=True)(render)
    return function


def block_element(function: Element) -> Element:
    """Register a tag with content, ``content`` in its template; blank content is the empty string."""
    tag = _tag(function)

    def render(context: Context, content: SafeString, *args: Any, **kwargs: Any) -> SafeString:
        return tag(context, {"content": content if content.strip() else ""}, args, kwargs)

    _name(render, function, _CONTEXT, _CONTENT)
    register.simple_block_tag(takes_context=True)(render)
    return function


def _tag(function: Element) -> Callable[[Context, Values, tuple[Any, ...], Values], SafeString]:
    signature = inspect.signature(function)
    template_name = f"elements/{function.__name__}.html"
    wants_context = next(iter(signature.parameters), "") == "context"

    def render(context: Context, given: Values, args: tuple[Any, ...], kwargs: Values) -> SafeString:
        if wants_context:
            args = (context, *args)
        bound = signature.bind(*args, **kwargs)
        bound.apply_defaults()
        values = {**given, **bound.arguments, **(function(*args, **kwargs) or {})}
        values["csrf_token"] = context.get("csrf_token")
        engine = context.template.engine if context.template is not None else template.Engine.get_default()
        rendered: SafeString = engine.get_template(template_name).render(context.new(values))
        return rendered

    return render


def _name(render: Callable[..., SafeString], function: Element, *first: inspect.Parameter) -> None:
    """Give the tag the function's name and signature; Django reads both when it compiles a template."""
    signature = inspect.signature(function)
    own = [parameter for parameter in signature.parameters.values() if parameter.name != "context"]
    render.__name__ = function.__name__
    render.__doc__ = function.__doc__
    render.__signature__ = signature.replace(parameters=[*first, *own])  # type: ignore[attr-defined]
