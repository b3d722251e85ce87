from __future__ import annotations

from django.urls import path, register_converter

from shop.readings import sensors, upload, views


class PreviewToken:
    regex = "[0-9a-f]{32}"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


register_converter(PreviewToken, "preview")

urlpatterns = [
    path("", views.readings, name="readings"),
    path("by-hand/", views.by_hand, name="readings-by-hand"),
    path("upload/", upload.upload, name="readings-upload"),
    path("upload/<preview:token>/", upload.show_preview, name="readings-preview"),
    path("upload/<preview:token>/take/", upload.confirm, name="readings-confirm"),
    path("upload/<preview:token>/discard/", upload.discard, name="readings-discard"),
    path("<int:reading_id>/remove/", views.remove_reading, name="reading-remove"),
    path("sensors/", sensors.sensor_list, name="sensors"),
    path("sensors/<int:sensor_id>/renew/", sensors.renew, name="sensor-renew"),
    path("sensors/<int:sensor_id>/withdraw/", sensors.withdraw, name="sensor-withdraw"),
]
