"""Pages alone, for a WSGI server."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "oneonone.settings")
application = get_wsgi_application()

from oneonone import checks

checks.refuse_faults()
