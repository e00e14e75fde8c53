"""All routes of the clinic."""

from django.conf import settings
from django.http import FileResponse, HttpRequest, HttpResponseBase
from django.urls import include, path
from django.views.static import serve

from sidelong.clinic.accounts.access import public

_YEAR_SECONDS = 365 * 24 * 3600


@public
def static_file(request: HttpRequest, name: str) -> HttpResponseBase:
    """Send a style sheet, script or font, with the same headers as every page.

    Names hold a hash of the content, so a browser may keep it for as long as it likes.

    Returns
    -------
    HttpResponse
        The file.
    """
    response = serve(request, name, document_root=str(settings.STATIC_ROOT))
    if isinstance(response, FileResponse):
        response["Cache-Control"] = f"public, max-age={_YEAR_SECONDS}, immutable"
    return response


urlpatterns = [
    path("static/<path:name>", static_file, name="static_file"),
    path("account/", include("sidelong.clinic.accounts.urls")),
    path("trainees/<slug:code>/courses/<int:course>/", include("sidelong.clinic.practice.urls")),
    path(
        "trainees/<slug:code>/courses/<int:course>/sheets/",
        include("sidelong.clinic.sheets.urls"),
    ),
    path("trainees/", include("sidelong.clinic.trainees.urls")),
    path("promises/", include("sidelong.clinic.practice.promise_urls")),
    path("fit/", include("sidelong.clinic.practice.fit_urls")),
    path("protocols/", include("sidelong.clinic.protocols.urls")),
    path("", include("sidelong.clinic.look.urls")),
    path("", include("sidelong.clinic.today.urls")),
]

if settings.INSTALLATION.demo:
    urlpatterns.append(path("invented/", include("sidelong.clinic.demonstration.urls")))
