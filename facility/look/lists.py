"""A list page: filter, table, fifty rows a page."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django_tables2 import RequestConfig

ROWS = 50


def listed(request: HttpRequest, table_class: Any, filter_set: Any) -> dict[str, Any]:
    """The context of a list page made from a bound filter set.

    A page number beyond the end shows the last page; nonsense shows the first.
    """
    table = table_class(filter_set.qs)
    RequestConfig(request, paginate={"per_page": ROWS, "silent": True}).configure(table)
    return {"table": table, "filter": filter_set, "filtered": bool(filter_set.form.changed_data)}
