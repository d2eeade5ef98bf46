from django.urls import path

from planner.cutting import views

urlpatterns = [
    path("", views.batch_list, name="batch-list"),
]
