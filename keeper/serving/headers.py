"""How long browsers may keep what is served beside the pages."""

from wsgiref.headers import Headers


def keep_only_fingerprinted(headers: Headers, path: str, url: str) -> None:
    """Let browsers ask again for whatever has no digest in its address."""
    if not url.startswith("/static/"):
        headers["Cache-Control"] = "no-cache"
