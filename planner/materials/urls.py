from django.urls import path

from planner.materials import views

urlpatterns = [
    path("", views.fabric_list, name="fabric-list"),
]
