"""Routes of protocols."""

from django.urls import path

from sidelong.clinic.protocols import views

urlpatterns = [
    path("", views.protocols, name="protocols"),
    path("new/", views.new_protocol, name="new_protocol"),
    path("<str:site>/ladder/", views.new_ladder, name="new_ladder"),
]
