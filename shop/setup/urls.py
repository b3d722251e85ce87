from __future__ import annotations

from django.urls import path

from shop.setup import first

urlpatterns = [
    path("", first.setup, name="setup"),
]
