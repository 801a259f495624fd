"""Pages alone, for a WSGI server."""

import os

import django
from django.core.wsgi import get_wsgi_application

from oneonone.serving import entry, staticfiles

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "oneonone.settings")
entry.pages()
django.setup(set_prefix=False)
staticfiles.collect()  # before the middleware that serves them looks what there is
application = get_wsgi_application()
