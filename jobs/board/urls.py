from __future__ import annotations

from django.urls import path

from jobs.board import plan_views, views

urlpatterns = [
    path("", views.board, name="board"),
    path("pulse/", views.pulse, name="board-pulse"),
    path("casts/new/", plan_views.cast_new, name="cast-new"),
    path("casts/effect/", plan_views.cast_effect_shown, name="cast-effect"),
    path("casts/<int:batch_id>/", plan_views.cast, name="cast"),
    path("casts/<int:batch_id>/call-off/", plan_views.cast_off, name="cast-off"),
    path("jobs/<str:number>/", views.job, name="board-job"),
    path("jobs/<str:number>/install/", plan_views.install, name="install"),
    path(
        "jobs/<str:number>/install/effect/",
        plan_views.install_effect_shown,
        name="install-effect",
    ),
    path("jobs/<str:number>/install/call-off/", plan_views.install_off, name="install-off"),
]
