from __future__ import annotations

from django.urls import path

from jobs.floor import actions, phone, runs, views, weighing

urlpatterns = [
    path("", views.floor, name="floor"),
    path("worker.js", phone.worker, name="floor-worker"),
    path("token/", phone.token, name="floor-token"),
    path("casts/<int:batch_id>/mark/", actions.mark_cast, name="floor-mark-cast"),
    path("casts/<int:batch_id>/take-back/", actions.take_back_cast, name="floor-take-back-cast"),
    path("casts/<int:batch_id>/runs/", runs.cast, name="floor-runs"),
    path("casts/<int:batch_id>/runs/<int:run_number>/open/", runs.open_one, name="floor-open-run"),
    path("runs/<int:run_id>/", runs.sheet, name="floor-run"),
    path("runs/<int:run_id>/tick/", runs.tick, name="floor-tick"),
    path("runs/<int:run_id>/added/", runs.added, name="floor-added"),
    path("runs/<int:run_id>/strike/", runs.strike_whole, name="floor-strike-run"),
    path("ticks/<int:weighed_id>/strike/", runs.strike, name="floor-strike-tick"),
    path("marks/<int:mark_id>/strike/", actions.strike, name="floor-strike"),
    path("pieces/<str:code>/", views.piece, name="piece"),
    path("pieces/<str:code>/mark/", actions.mark, name="floor-mark"),
    path("pieces/<str:code>/hold/", actions.hold, name="floor-hold"),
    path("pieces/<str:code>/release/", actions.release, name="floor-release"),
    path("pieces/<str:code>/weigh/", weighing.weigh, name="floor-weigh"),
    path("weights/<int:weighing_id>/strike/", weighing.strike, name="floor-strike-weighing"),
    path("pieces/<str:code>/recast/", actions.recast, name="floor-recast"),
]
