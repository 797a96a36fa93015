"""The Celery application: qc's tasks on the broker that the settings name."""

from celery import Celery

app = Celery("squish")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["qc"])
