"""Route of the programme's page of promises kept."""

from django.urls import path

from sidelong.clinic.practice.promise_views import promises

urlpatterns = [path("", promises, name="promises")]
