from __future__ import annotations

from django.urls import include, path

from shop import entry

handler403 = "shop.access.forbidden"
handler404 = "shop.entry.not_found"
handler500 = "shop.entry.broken"

urlpatterns = [
    path("", entry.home, name="home"),
    path("health/", entry.health, name="health"),
    path("robots.txt", entry.robots, name="robots"),
    path("", include("shop.account.urls")),
    path("api/", include("shop.readings.api_urls")),
    path("readings/", include("shop.readings.urls")),
    path("shop/", include("shop.setup.urls")),
    path("", include("jobs.urls")),
]
