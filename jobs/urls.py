from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("board/", include("jobs.board.urls")),
    path("floor/", include("jobs.floor.urls")),
    path("pieces/<str:code>/", include("jobs.piece.urls")),
    path("mixes/<int:mix_id>/demolds/", include("jobs.demolds.urls")),
    path("shop/mixes/<int:mix_id>/drying/", include("jobs.drying.urls")),
    path("sheets/", include("jobs.sheets.urls")),
    path("mixing/", include("jobs.mixing.record_urls")),
    path("mixing/", include("jobs.mixing.urls")),
    path("exchange/", include("jobs.exchange.urls")),
    path("plan/", include("jobs.plan.urls")),
    path("office/", include("jobs.office.urls")),
    path("", include("jobs.office.customer_urls")),
]
