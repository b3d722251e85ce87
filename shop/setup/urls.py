from __future__ import annotations

from django.urls import path

from shop.setup import calendar, first, materials, people, rooms, routes

urlpatterns = [
    path("", first.setup, name="setup"),
    path("settings/", first.settings, name="settings"),
    path("rooms/", rooms.rooms, name="rooms"),
    path("rooms/new/", rooms.room, name="new-room"),
    path("rooms/<int:room_id>/", rooms.room, name="room"),
    path("rooms/<int:room_id>/delete/", rooms.delete_room, name="delete-room"),
    path("rooms/<int:room_id>/air/", rooms.room_air, name="room-air"),
    path("rooms/<int:room_id>/set-back/", rooms.set_back, name="set-back"),
    path("hours/", calendar.hours, name="hours"),
    path("hours/edit/", calendar.edit_hours, name="edit-hours"),
    path("closed/", calendar.closed, name="closed"),
    path("closed/decide/", calendar.decide_closed, name="decide-closed"),
    path("closed/add/", calendar.add_closed, name="add-closed"),
    path("closed/<int:closed_id>/remove/", calendar.remove_closed, name="remove-closed"),
    path("mixes/", materials.mixes, name="mixes"),
    path("mixes/new/", materials.mix, name="new-mix"),
    path("mixes/<int:mix_id>/", materials.mix, name="mix"),
    path("mixes/<int:mix_id>/delete/", materials.delete_mix, name="delete-mix"),
    path("sealers/", materials.sealers, name="sealers"),
    path("sealers/new/", materials.sealer, name="new-sealer"),
    path("sealers/<int:sealer_id>/", materials.sealer, name="sealer"),
    path("sealers/<int:sealer_id>/delete/", materials.delete_sealer, name="delete-sealer"),
    path("routes/", routes.routes, name="routes"),
    path("routes/new/", routes.new_route, name="new-route"),
    path("routes/<int:route_id>/", routes.route, name="route"),
    path("routes/<int:route_id>/delete/", routes.delete_route, name="delete-route"),
    path("routes/<int:route_id>/steps/new/", routes.step, name="new-step"),
    path("routes/<int:route_id>/steps/<int:step_id>/", routes.step, name="step"),
    path("routes/<int:route_id>/steps/<int:step_id>/move/", routes.move_step, name="move-step"),
    path(
        "routes/<int:route_id>/steps/<int:step_id>/delete/",
        routes.delete_step,
        name="delete-step",
    ),
    path("people/", people.people, name="people"),
    path("people/invite/", people.invite, name="invite"),
    path("people/invitations/<int:invitation_id>/withdraw/", people.withdraw, name="withdraw"),
    path("people/<int:person_id>/", people.person, name="person"),
    path("people/<int:person_id>/password/", people.new_password, name="new-password"),
    path("people/<int:person_id>/remove/", people.remove, name="remove-person"),
    path("people/<int:person_id>/bring-back/", people.bring_back, name="bring-back"),
]
