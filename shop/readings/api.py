"""Where sensors post. Answers in JSON whatever happens: nobody reads a page there."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, JsonResponse, UnreadablePostError
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt

from shop.access import open_to_all
from shop.models import Sensor
from shop.readings.limits import announced_length
from shop.services.senml import BadPack
from shop.services.sensors import Contradicts, sensor_with, take_pack

BODY_LIMIT = 256 * 1024
TYPES = {"application/senml+json", "application/json"}


class Problem(Exception):
    def __init__(self, status: int, error: str, **headers: str) -> None:
        super().__init__(error)
        self.status, self.error, self.headers = status, error, headers


@open_to_all
@csrf_exempt
def post_readings(request: HttpRequest) -> JsonResponse:
    try:
        sensor = _sensor(request)
        taken = take_pack(sensor=sensor, body=_body(request), now=timezone.now())
    except Problem as problem:
        return JsonResponse(
            {"error": problem.error}, status=problem.status, headers=problem.headers
        )
    except BadPack as bad:
        return JsonResponse(_refusal(bad), status=_status(bad))
    return JsonResponse({"taken": taken.taken, "already": taken.already})


def _sensor(request: HttpRequest) -> Sensor:
    if request.method != "POST":
        raise Problem(405, "Readings are sent by POST.", Allow="POST")
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    sensor = sensor_with(token.strip()) if scheme.lower() == "bearer" and token.strip() else None
    if sensor is None:
        raise Problem(
            401,
            "No sensor has this token. Send 'Authorization: Bearer' with the token that was shown "
            "when the sensor was added.",
            **{"WWW-Authenticate": "Bearer"},
        )
    if not sensor.in_use:
        raise Problem(403, f"The sensor {sensor.name} was withdrawn. Renew its token to use it.")
    return sensor


def _body(request: HttpRequest) -> bytes:
    if request.content_type not in TYPES:
        raise Problem(415, "Send SenML as application/senml+json (RFC 8428).")
    if not request.META.get("CONTENT_LENGTH"):
        raise Problem(411, "Send the body in one piece, with its Content-Length.")
    # By its announced length, so that a huge body is refused without being read.
    if announced_length(request) > BODY_LIMIT:
        raise Problem(413, f"Send at most {BODY_LIMIT // 1024} KB at a time.")
    try:
        return request.read(BODY_LIMIT)
    except UnreadablePostError:
        raise Problem(400, "The connection broke off before the whole pack was here.") from None


def _refusal(bad: BadPack) -> dict[str, Any]:
    where = {} if bad.record is None else {"record": bad.record}
    return {"error": bad.reason, **where, "taken": 0}


def _status(bad: BadPack) -> int:
    if isinstance(bad, Contradicts):
        return 409
    return 400 if bad.record is None else 422
