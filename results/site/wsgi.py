"""The WSGI application."""

import gc
import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "results.site.settings")
application = get_wsgi_application()
get_resolver().url_patterns  # noqa: B018  all pages, which the first reader would wait for
# What is loaded by now stays: without this the collector goes through all of it again and again, in the midst of pages.
gc.collect()
gc.freeze()
