from importlib import import_module

from django.apps import AppConfig


class DeployConfig(AppConfig):
    name = "deploy"

    def ready(self) -> None:
        """Make deploy/celery.py's application the one that tasks are looked up in."""
        import_module("deploy.celery")
