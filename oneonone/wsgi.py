"""Pages alone, for a WSGI server."""

import os

import django
from django.core.wsgi import get_wsgi_application

from oneonone import checks
from oneonone.serving import staticfiles

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "oneonone.settings")
checks.refuse_faults()
django.setup(set_prefix=False)
staticfiles.collect()  # before the middleware that serves them looks what there is
application = get_wsgi_application()
