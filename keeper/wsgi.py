"""The entry point for a web server; `manage.py start` uses it too."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "keeper.settings")

application = get_wsgi_application()
