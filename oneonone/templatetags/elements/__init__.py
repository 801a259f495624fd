"""The pieces that pages are composed of, as template tags: ``{% load elements %}``.

Tags and not ``include``, so that a mistyped argument is refused and not silently empty. A tag that ends in a
block (``{% notice %}...{% endnotice %}``) takes what stands inside as its content. Each tag has its markup in
``templates/elements/<tag>.html`` and its style in ``static/oneonone/css/elements/``. Words given to a tag are
escaped as everywhere; markup belongs into the content of a block.

Forms are laid out by ``{% field form.name %}`` and not by a form renderer: Django's own widgets and wiring of
``aria-describedby`` and ``aria-invalid`` stay as they are, and the settings name no renderer.
"""

from oneonone.templatetags.elements import acts, bundles, forms, inline, lists, rail, words
from oneonone.templatetags.elements.registry import register

__all__ = ["acts", "bundles", "forms", "inline", "lists", "rail", "register", "words"]
