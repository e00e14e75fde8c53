"""Routes of a trainee's way."""

from django.urls import path

from sidelong.clinic.trainees import views

urlpatterns = [
    path("", views.trainees, name="trainees"),
    path("find/", views.find, name="find_trainee"),
    path("new/", views.new_referral, name="new_referral"),
    path("<slug:code>/", views.trainee, name="trainee"),
    path("<slug:code>/name/", views.name, name="trainee_name"),
    path("<slug:code>/referral/", views.referral, name="referral"),
    path("<slug:code>/questions/", views.questions, name="questions"),
    path("<slug:code>/questions/answer/", views.answer, name="answer"),
    path("<slug:code>/readiness/", views.readiness, name="readiness"),
    path("<slug:code>/decision/", views.decision, name="decision"),
    path("<slug:code>/decision/<slug:gate>/", views.decision, name="gate_decision"),
    path("<slug:code>/visit/", views.visit, name="visit"),
    path("<slug:code>/plan/", views.plan, name="plan"),
    path("<slug:code>/plan/issue/", views.issue, name="issue_plan"),
    path("<slug:code>/close/", views.close, name="close_course"),
    path("<slug:code>/booklet/", views.booklet, name="booklet"),
]
