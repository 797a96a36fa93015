from importlib import import_module

from django.apps import AppConfig


class QcConfig(AppConfig):
    name = "qc"
    label = "qc"
    verbose_name = "The shop"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        # The tasks import models, so they can be registered only once the models are loaded.
        import_module("qc.tasks")
