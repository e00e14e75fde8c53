"""Route of the page of all parts."""

from django.urls import path

from sidelong.clinic.look.views import parts

urlpatterns = [path("parts/", parts, name="parts")]
