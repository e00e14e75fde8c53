"""Routes of photographed sheets."""

from django.urls import path

from sidelong.clinic.sheets import note_views, views

urlpatterns = [
    path("", views.sheets, name="sheets"),
    path("receive/", views.receive, name="receive_sheets"),
    path("look/", views.look, name="look_at_sheets"),
    path("confirm/", views.confirm_clear, name="confirm_clear_sheets"),
    path("<int:sheet>/look-again/", views.look_again, name="look_again"),
    path("<int:sheet>/say/", views.say, name="say_answer"),
    path("<int:sheet>/confirm/", views.confirm, name="confirm_sheet"),
    path("<int:sheet>/stands-for/", views.stands_for, name="name_spare"),
    path("<int:sheet>/set-aside/", views.aside, name="set_sheet_aside"),
    path("<int:sheet>/by-hand/", note_views.handwriting, name="handwriting"),
    path("<int:sheet>/by-hand/keep/", note_views.keep, name="keep_handwriting"),
    path("<int:sheet>/by-hand/say/", note_views.say, name="say_note"),
    path("<int:sheet>/<str:area>.jpg", views.picture, name="sheet_picture"),
]
