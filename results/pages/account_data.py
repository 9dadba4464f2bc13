"""A person's own data, to take along."""

from __future__ import annotations

import tempfile

from django.contrib.auth.decorators import login_required
from django.http import FileResponse
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_GET

from results.accounts import own_data as archive
from results.site.requests import SomebodysRequest


@login_required
@require_GET
@cache_control(no_store=True, private=True)
def own_data(request: SomebodysRequest) -> FileResponse:
    """All that the book keeps of whoever asks."""
    file = tempfile.TemporaryFile()  # noqa: SIM115 (the answer closes it)
    try:
        archive.write(request.user, file)
    except BaseException:
        file.close()
        raise
    file.seek(0)
    response = FileResponse(file, as_attachment=True, filename="breakbook-own-data.zip", content_type="application/zip")
    response.headers["Accept-Ranges"] = "none"  # and so it is not compressed once more
    return response
