from django.urls import path

from planner.orders import views

urlpatterns = [
    path("", views.order_list, name="order-list"),
]
