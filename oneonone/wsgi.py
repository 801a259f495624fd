"""Pages alone, for a WSGI server."""

import os

from django.core.wsgi import get_wsgi_application

from oneonone import checks

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "oneonone.settings")
checks.refuse_faults()
application = get_wsgi_application()
