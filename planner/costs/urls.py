from django.urls import path

from planner.costs import views

urlpatterns = [
    path("", views.cost_list, name="cost-list"),
    path("batches/", views.cost_batches, name="cost-batches"),
]
