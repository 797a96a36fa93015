"""How the service runs. Naming the Celery application here makes it the one that tasks join."""

from deploy.celery import app as celery_app

__all__ = ["celery_app"]
