"""The addresses of the house: each room keeps its own."""

from django.urls import include, path

from planner.web import views

urlpatterns = [
    path("", views.today, name="today"),
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("orders/", include("planner.orders.urls")),
    path("styles/", include("planner.styles.urls")),
    path("materials/", include("planner.materials.urls")),
    path("batches/", include("planner.cutting.urls")),
    path("sewing/", include("planner.sewing.urls")),
    path("costs/", include("planner.costs.urls")),
]
