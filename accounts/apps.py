"""The accounts application."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class AccountsConfig(AppConfig):
    """Registers the application under the label ``accounts``."""

    name = "accounts"
    verbose_name = _("People and signing in")
    default_auto_field = "django.db.models.BigAutoField"
