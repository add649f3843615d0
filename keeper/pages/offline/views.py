"""The device that keeps pages, what waits on it, and the files that let it."""

import json

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.templatetags.static import static
from django.urls import reverse

from keeper import NAME
from keeper.access import account, open_to_all
from keeper.domain.offline import readers
from keeper.domain.offline.listed import NOT_WAITING
from keeper.pages.frame.requests import form_view, reading, require_safe
from keeper.pages.offline import page as pages

# Browsers keep a cookie so long at most.
_DAYS = 400
_WORKER = ("store", "pages", "catching", "worker")
# These pages have the scripts of the device also where it was not asked to keep anything.
_SCRIPTS = {"works_offline": True}
# What the page that needs no connection is made of.
_SHELL = (
    *("css/tokens.css", "css/base.css", "css/layout.css", "css/forms.css", "css/notices.css"),
    *("css/marks.css", "css/offline.css", "vendor/htmx/htmx.min.js", "js/theme.js", "js/days.js"),
    *("js/typed.js", "js/drafts.js", "js/search.js", "icon.svg", "js/away/store.js"),
    *("js/away/sending.js", "js/away/frame.js", "js/away/list.js", "js/away/kept.js"),
    *("js/away/shown.js", "js/away/export.js", "fonts/SourceSans3VF-Upright.woff2"),
)


@reading
@form_view
def device(request: HttpRequest) -> HttpResponse:
    """Let whoever is logged in have pages kept on this device, or not any more."""
    who = account(request)
    if request.method == "POST":
        return _asked(request, stops="stop" in request.POST)
    context = {"device": pages.device(request, who), **_SCRIPTS}
    return render(request, "offline/device.html", context)


def _asked(request: HttpRequest, *, stops: bool) -> HttpResponse:
    before, own = request.COOKIES.get(readers.COOKIE, ""), readers.mark(account(request))
    after = readers.without_mark(before, own) if stops else readers.with_mark(before, own)
    answer = redirect("home-self-offline")
    if not after:
        answer.delete_cookie(readers.COOKIE, samesite="Lax")
        return answer
    answer.set_cookie(
        readers.COOKIE,
        after,
        max_age=_DAYS * 24 * 3600,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )
    return answer


@require_safe
def waiting(request: HttpRequest) -> HttpResponse:
    """Show what waits on this device; the list is made there, of what it keeps."""
    return render(request, "offline/waiting.html", _SCRIPTS)


@require_safe
def now(request: HttpRequest) -> HttpResponse:
    """Tell a device who is logged in, and which of its entries are in the book already."""
    who = account(request)
    told = {
        "who": readers.mark(who),
        "key": readers.key(who),
        "csrf": get_token(request),
        "written": pages.in_the_book(request.GET.get("of", "")),
        "better": pages.better_than(f"{request.scheme}://{request.get_host()}"),
    }
    return JsonResponse(told)


@require_safe
def ahead(request: HttpRequest) -> HttpResponse:
    """Tell a device which pages it reads before they are needed."""
    return JsonResponse({"addresses": pages.read_ahead(account(request))})


@open_to_all
@require_safe
def no_connection(request: HttpRequest) -> HttpResponse:
    """Show what a device shows without a connection for a page that it has not kept."""
    return render(request, "offline/none.html", _SCRIPTS)


@open_to_all
@require_safe
def manifest(request: HttpRequest) -> HttpResponse:
    """Say how the book is put on a phone's first screen."""
    icons = [
        {"src": static(f"icons/{size}.png"), "sizes": f"{size}x{size}", "type": "image/png"}
        for size in (192, 512)
    ]
    said = {
        "name": NAME,
        "short_name": NAME,
        "id": "/",
        "start_url": reverse("home"),
        "scope": "/",
        "display": "standalone",
        "background_color": "#f7f5ec",
        "theme_color": "#0c6b62",
        "icons": [*icons, icons[-1] | {"purpose": "maskable"}],
    }
    return _file(json.dumps(said), "application/manifest+json")


@open_to_all
@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """Give the worker of the whole site; its files' digests make a new version of it."""
    setup = {
        "shell": [reverse("offline-none"), *map(static, _SHELL)],
        "none": reverse("offline-none"),
        "waiting": reverse("home-self-waiting"),
        "logOut": reverse("log-out"),
        "notWaiting": NOT_WAITING,
    }
    files = ", ".join(json.dumps(static(f"js/away/{name}.js")) for name in _WORKER)
    answer = _file(
        f"const SETUP = {json.dumps(setup)};\nimportScripts({files});\n", "text/javascript"
    )
    answer["Service-Worker-Allowed"] = "/"
    return answer


def _file(text: str, kind: str) -> HttpResponse:
    return HttpResponse(text, content_type=kind, headers={"Cache-Control": "no-cache"})
