"""Routes of practice: nights, events, result."""

from django.urls import path

from sidelong.clinic.practice import asking_views, promise_views, up_views, views

urlpatterns = [
    path("nights/", views.nights, name="nights"),
    path("nights/keep/", views.keep, name="keep_nights"),
    path("nights/form/", views.keep_form, name="keep_nights_form"),
    path("nights/<int:night>/versions/", views.versions, name="night_versions"),
    path("events/", views.events, name="events"),
    path("events/record/", views.record, name="record_event"),
    path("events/<int:event>/answer/", views.answer, name="answer_event"),
    path("result/", views.result, name="result"),
    path("result/up/", up_views.up, name="up_sign_off"),
    path("result/up/sign/", up_views.sign_up, name="sign_off_up"),
    path("result/up/take-back/", up_views.take_back, name="withdraw_up"),
    path("result/to-ask/", asking_views.to_ask, name="to_ask"),
    path("result/begin/", promise_views.begin, name="begin_follow_up"),
    path("first-dose/", promise_views.first_dose, name="first_dose"),
    path("result/sign/", views.sign, name="sign_result"),
    path("result/report.pdf", views.report_now, name="report_now"),
    path("result/<int:number>/", views.signed, name="signed_result"),
    path("result/<int:number>/report.pdf", views.report_signed, name="report_signed"),
]
