from django.apps import AppConfig


class QcConfig(AppConfig):
    name = "qc"
    label = "qc"
    verbose_name = "The shop"
    default_auto_field = "django.db.models.BigAutoField"
