"""The style and script that every page loads."""

from oneonone.serving import staticfiles
from oneonone.templatetags.elements.registry import Values, element


@element
def styles() -> Values:
    """Every style that any page may need; pages add their own in the block "styles"."""
    return {"hrefs": staticfiles.addresses("css/site.css")}


@element
def scripts() -> Values:
    """One file a behaviour, each on data attributes, joined into one; every page works without them."""
    return {"hrefs": staticfiles.addresses("js/site.js")}
