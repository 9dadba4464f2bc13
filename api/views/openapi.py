"""The description of the API, and the page on which it can be read and tried."""

from __future__ import annotations

from typing import Any

from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.views import SpectacularSwaggerSplitView
from rest_framework.request import Request
from rest_framework.response import Response

from ..renderers import JSONRenderer
from .open import OpenView


class Description(OpenView):
    """The API as an OpenAPI 3.1 document."""

    about = "The API as an OpenAPI 3.1 document, with parameters, units, words and examples; reference/ is its page."
    renderer_classes = [JSONRenderer]

    def get(self, request: Request, **kwargs: Any) -> Response:
        self.check_names()
        return Response(self.once("openapi", document))


def document() -> dict[str, Any]:
    """The document for what everybody may read."""
    return dict(SchemaGenerator(urlconf="results.site.urls").get_schema(request=None, public=True))


class Reference(SpectacularSwaggerSplitView):
    """The document as a page, all of it from our own host; its script is an address of its own."""

    url_name = "api:schema"
    template_name = "api/reference.html"
    authentication_classes = []
    throttle_classes = []
    schema = None
