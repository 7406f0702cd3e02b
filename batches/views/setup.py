"""How does a tablet learn to trust this computer, once, before it works over https?"""

from __future__ import annotations

from pathlib import Path

from csp.decorators import csp_update
from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from batches.services.device_profile import CONTENT_TYPE, device_profile
from batches.services.local_authority import Authority, read_authority
from batches.services.network_https import HttpsAt
from batches.views.access import for_anyone
from batches.views.https_door import https_at, same_over_https


@for_anyone
@never_cache
@require_safe
def setup(request: HttpRequest) -> HttpResponseBase:
    """Show the authority, how it is installed, and whether https works on this device already."""
    at = https_at()
    if at is None:
        return render(request, "batches/setup/page.html", {"https_address": ""})
    authority = _authority()
    there = same_over_https(request, at)
    context = {
        "https_address": there,
        "fingerprint": authority.fingerprint.split(":"),
        "authority": authority,
        "others": _others(at, there),
    }
    # The light asks the same server over https, which is another origin than this page.
    page = csp_update({"connect-src": [there]})(
        lambda asked: render(asked, "batches/setup/page.html", context)
    )
    answer: HttpResponseBase = page(request)
    return answer


@for_anyone
@require_safe
def authority_file(request: HttpRequest) -> HttpResponse:
    """Give the authority's certificate, for devices that install a file."""
    return HttpResponse(
        _authority().pem,
        content_type="application/x-x509-ca-cert",
        headers={"Content-Disposition": 'attachment; filename="frondbook-authority.crt"'},
    )


@for_anyone
@require_safe
def authority_profile(request: HttpRequest) -> HttpResponse:
    """Give the authority's certificate inside a profile, for devices that want one."""
    return HttpResponse(
        device_profile(authority=_authority()),
        content_type=CONTENT_TYPE,
        headers={"Content-Disposition": 'attachment; filename="frondbook-authority.mobileconfig"'},
    )


def _others(at: HttpsAt, there: str) -> list[str]:
    """Name the other addresses of this computer, those by which only itself is called left out."""
    alone = {"127.0.0.1", "localhost", "::1"}
    addresses = [at.address_for(host) for host in at.hosts if host not in alone]
    return [one for one in addresses if one != there]


def _authority() -> Authority:
    found = read_authority(data=Path(settings.NURSERY_DATA))
    if found is None:
        raise Http404("No authority was made yet: it is made when the network is served.")
    return found
