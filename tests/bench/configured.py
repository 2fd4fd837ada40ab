"""Django as the bench runs it: as in the shop, with a folder of its own for what it writes."""

from __future__ import annotations

import os


def configure(folder: str = "") -> None:
    """Set Django up, with `folder` for its data, or the one that this process was started with."""
    if folder:
        os.environ["GAMBREL_DATA"] = folder
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    os.environ["DEBUG"] = "0"
    os.environ["ALLOWED_HOSTS"] = "localhost"
    import django

    django.setup()
