"""What the web server calls."""

import os

from django.core.checks import Tags, run_checks
from django.core.exceptions import ImproperlyConfigured
from django.core.wsgi import get_wsgi_application
from django.db import DEFAULT_DB_ALIAS, connections


def _refuse_unguarded() -> None:
    """Do not serve a database that would let the log be changed, or lose what was saved."""
    wrong = run_checks(tags=[Tags.database], databases=[DEFAULT_DB_ALIAS])
    connections.close_all()  # nothing opened here is shared with a worker
    if serious := [each for each in wrong if each.is_serious()]:
        raise ImproperlyConfigured("Not started. " + " ".join(map(str, serious)))


def _draw_once() -> None:
    """The first chart of a process takes seconds of imports; nobody is to wait for them."""
    from facility.look.charts import Chart, Curve, svg

    svg(Chart((Curve((0.0, 1.0), (0.0, 1.0)),), "x", "y"))


os.environ.setdefault("DJANGO_SETTINGS_MODULE", "facility.project.settings")
application = get_wsgi_application()
_refuse_unguarded()
_draw_once()
