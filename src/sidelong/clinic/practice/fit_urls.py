"""Routes of what the clinic has learned from its own trainees."""

from django.urls import path

from sidelong.clinic.practice import fit_views

urlpatterns = [
    path("", fit_views.fit, name="fit"),
    path("make/", fit_views.make, name="make_fit"),
    path("consent/", fit_views.consent, name="record_consent"),
]
