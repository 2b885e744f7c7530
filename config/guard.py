"""What no honest browser sends is turned away before any page looks at it."""

from collections.abc import Callable

from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponseBase


class RefuseNul:
    """An address with a NUL in it is answered 400: no text of ours holds one, and not every database would let it by."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        query = request.META.get("QUERY_STRING", "")
        if "%00" in query or "\x00" in query or "\x00" in request.path_info:
            raise BadRequest("a NUL in the address")
        return self.get_response(request)
