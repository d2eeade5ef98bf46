from django.urls import path

from planner.sewing import views

urlpatterns = [
    path("", views.sewing_board, name="sewing-board"),
]
