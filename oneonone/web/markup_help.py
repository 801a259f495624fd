"""What stands beside the fields of longer words."""

from django.utils.translation import gettext_lazy as _

LIGHT_MARKUP = _("Light markup works: *stress*, - a list, > a quotation, [a link](https://…).")
# Where something is said of the field already.
SHARED_LIGHT_MARKUP = _("Shared as well. Light markup works: *stress*, - a list, [a link](https://…).")
