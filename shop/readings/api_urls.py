from __future__ import annotations

from django.urls import re_path

from shop.readings import api

urlpatterns = [re_path(r"^readings/?$", api.post_readings, name="api-readings")]
