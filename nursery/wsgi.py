"""What does a web server call?"""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "nursery.settings")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

application = get_wsgi_application()
