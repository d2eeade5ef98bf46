"""The addresses of the house: each room keeps its own."""

from django.urls import include, path

from planner.web import entry, people, views

urlpatterns = [
    path("", views.today, name="today"),
    path("health/", views.health, name="health"),
    path("sign-in/", entry.sign_in, name="sign-in"),
    path("sign-out/", entry.sign_out, name="sign-out"),
    path("entry/<slug:token>/", entry.entry, name="entry"),
    path("password/", entry.own_password, name="own-password"),
    path("people/", people.people, name="people"),
    path("people/<int:pk>/link/", people.new_link, name="person-link"),
    path("people/<int:pk>/rest/", people.put_to_rest, name="person-rest"),
    path("people/<int:pk>/back/", people.let_in_again, name="person-back"),
    path("orders/", include("planner.orders.urls")),
    path("styles/", include("planner.styles.urls")),
    path("materials/", include("planner.materials.urls")),
    path("batches/", include("planner.cutting.urls")),
    path("sewing/", include("planner.sewing.urls")),
    path("costs/", include("planner.costs.urls")),
]
