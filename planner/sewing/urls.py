from django.urls import path

from planner.sewing import views

urlpatterns = [
    path("", views.sewing_board, name="sewing-board"),
    path("find/", views.bundle_find, name="bundle-find"),
    path("b/<str:token>/", views.bundle_scan, name="bundle-scan"),
    path("b/<str:token>/tick/", views.bundle_tick, name="bundle-tick"),
    path("order/<str:number>/", views.order_progress, name="order-progress"),
    path("batch/<str:number>/finish/", views.batch_finish, name="batch-finish"),
    path("batch/<str:number>/open/", views.batch_open_again, name="batch-open-again"),
]
