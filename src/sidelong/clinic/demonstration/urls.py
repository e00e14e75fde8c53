"""Routes that an invented clinic has beside all others."""

from django.urls import path

from sidelong.clinic.demonstration import views

urlpatterns = [path("come-in/", views.come_in_page, name="come_in")]
