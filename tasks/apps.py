"""The application of the background jobs. It has no rows of its own."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class TasksConfig(AppConfig):
    name = "tasks"
    verbose_name = _("Background jobs")
