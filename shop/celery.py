"""The Celery app, for shops with Redis. Start with `celery -A shop worker` and one `celery -A shop beat`."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")

app = Celery("shop")
app.config_from_object("django.conf:settings", namespace="CELERY")
# A broker that does not answer may hold up a request for two seconds, not for ever.
app.conf.broker_transport_options = {"socket_connect_timeout": 2, "max_retries": 0}
app.autodiscover_tasks(["shop"])
