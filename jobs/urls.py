from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("board/", include("jobs.board.urls")),
    path("floor/", include("jobs.floor.urls")),
    path("pieces/<str:code>/", include("jobs.piece.urls")),
    path("office/", include("jobs.office.urls")),
    path("", include("jobs.office.customer_urls")),
]
