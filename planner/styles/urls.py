from django.urls import path

from planner.styles import views

urlpatterns = [
    path("", views.style_list, name="style-list"),
]
