"""Headers that keep a page from loading or running anything that is not ours, and addresses nobody can type."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest

POLICY = (
    "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)


class ContentSecurityPolicyMiddleware:
    """Sends a strict Content-Security-Policy: no inline script, no inline style, nothing from elsewhere."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", POLICY)
        return response


class NullCharacterMiddleware:
    """Refuses an address with a null character (400), which PostgreSQL cannot even look for. Forms do so themselves."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if "\0" in request.path_info or "%00" in request.META.get("QUERY_STRING", ""):
            return HttpResponseBadRequest(
                "This address cannot be read.\n", content_type="text/plain; charset=utf-8"
            )
        return self.get_response(request)
