from django.apps import AppConfig


class OneononeConfig(AppConfig):
    name = "oneonone"
    label = "oneonone"
    verbose_name = "One-on-ones"

    def ready(self) -> None:
        # Registers the checks and makes our Celery app the current one in every process.
        from oneonone import celery, checks  # noqa: F401
