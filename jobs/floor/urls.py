from __future__ import annotations

from django.urls import path

from jobs.floor import actions, phone, views, weighing

urlpatterns = [
    path("", views.floor, name="floor"),
    path("worker.js", phone.worker, name="floor-worker"),
    path("token/", phone.token, name="floor-token"),
    path("casts/<int:batch_id>/mark/", actions.mark_cast, name="floor-mark-cast"),
    path("casts/<int:batch_id>/take-back/", actions.take_back_cast, name="floor-take-back-cast"),
    path("marks/<int:mark_id>/strike/", actions.strike, name="floor-strike"),
    path("pieces/<str:code>/", views.piece, name="piece"),
    path("pieces/<str:code>/mark/", actions.mark, name="floor-mark"),
    path("pieces/<str:code>/hold/", actions.hold, name="floor-hold"),
    path("pieces/<str:code>/release/", actions.release, name="floor-release"),
    path("pieces/<str:code>/weigh/", weighing.weigh, name="floor-weigh"),
    path("weights/<int:weighing_id>/strike/", weighing.strike, name="floor-strike-weighing"),
    path("pieces/<str:code>/recast/", actions.recast, name="floor-recast"),
]
