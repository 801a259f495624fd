"""Pages alone, for a WSGI server."""

import os

from django.core.wsgi import get_wsgi_application

from oneonone.serving import entry

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "oneonone.settings")
entry.pages()
application = get_wsgi_application()
