"""Pages by key, not by number: the hundredth page costs what the first one does."""

from rest_framework.pagination import CursorPagination


class ByKey(CursorPagination):
    """`next` and `previous` are addresses to follow as they are; `limit` is at most 1,000 rows."""

    ordering = "pk"
    page_size = 100
    page_size_query_param = "limit"
    max_page_size = 1000
