from __future__ import annotations

from django.urls import path

from jobs.mixing import lots, photos, piece_record, record, specimens

urlpatterns = [
    path("casts/<int:batch_id>/record/", record.record, name="batch-record"),
    path("casts/<int:batch_id>/record.pdf", record.paper, name="batch-record-paper"),
    path("casts/<int:batch_id>/photos/", photos.add_to_batch, name="batch-photo"),
    path("runs/<int:run_id>/record/", record.run, name="run-record"),
    path("runs/<int:run_id>/specimens/", specimens.make, name="make-specimens"),
    path("specimens/", specimens.waiting, name="specimens"),
    path("specimens/<int:specimen_id>/", specimens.result, name="specimen"),
    path("specimens/<int:specimen_id>/lost/", specimens.lose, name="lose-specimen"),
    path("pieces/<str:code>/", piece_record.piece, name="piece-record"),
    path("pieces/<str:code>/measured/", piece_record.measure, name="measure-piece"),
    path("pieces/<str:code>/photos/", photos.add_to_piece, name="piece-photo"),
    path(
        "measured/<int:measured_id>/strike/",
        piece_record.strike_measured,
        name="strike-measured",
    ),
    path("photos/<int:photo_id>.jpg", photos.photo, name="photo"),
    path("photos/<int:photo_id>-small.jpg", photos.small_photo, name="small-photo"),
    path("photos/<int:photo_id>/remove/", photos.remove, name="remove-photo"),
    path("lots/", lots.lots, name="lots"),
]
