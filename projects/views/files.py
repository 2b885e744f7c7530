from django.http import FileResponse, Http404, HttpRequest, HttpResponseBase
from django.views.decorators.http import require_safe

from projects import access, selectors, uploads


@require_safe
def file(request: HttpRequest, slug: str, pk: int) -> HttpResponseBase:
    """Hand a file to a member. What it is was read from its bytes when it came; a browser may not guess otherwise.

    Only pictures are shown in place. A document is saved: inside the strict policy a browser's own reader does not run.
    """
    door = access.open_project(request, slug)
    found = selectors.attachment(door.project, pk)
    if found is None:
        raise Http404
    kind = uploads.KINDS[found.kind]
    try:
        content = uploads.path_of(found.sha256).open("rb")
    except FileNotFoundError:
        raise Http404 from None
    answer = FileResponse(content, as_attachment=not kind.shown, filename=found.name, content_type=kind.media_type)
    answer["Content-Security-Policy"] = "sandbox; default-src 'none'"
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Cache-Control"] = "private, no-store"
    return answer
