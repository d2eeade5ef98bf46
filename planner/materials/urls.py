"""Addresses of the materials room."""

from django.urls import path

from planner.materials.views import cloth, cloth_stock, notions, suppliers, workroom

urlpatterns = [
    path("", cloth.fabric_list, name="fabric-list"),
    path("cloth/new/", cloth.fabric_new, name="fabric-new"),
    path("cloth/facts/", cloth.fabric_facts, name="fabric-facts"),
    path("cloth/<int:pk>/", cloth.fabric_detail, name="fabric-detail"),
    path("cloth/<int:pk>/change/", cloth.fabric_change, name="fabric-change"),
    path("cloth/<int:pk>/delete/", cloth.fabric_delete, name="fabric-delete"),
    path("cloth/<int:pk>/colours/new/", cloth.colour_new, name="colour-new"),
    path("colours/<int:pk>/", cloth_stock.colour_stock, name="colour-stock"),
    path("colours/<int:pk>/change/", cloth.colour_change, name="colour-change"),
    path("colours/<int:pk>/delete/", cloth.colour_delete, name="colour-delete"),
    path("colours/<int:pk>/receive/", cloth_stock.receive, name="cloth-receive"),
    path("colours/<int:pk>/count/", cloth_stock.count_loose, name="cloth-count-loose"),
    path("rolls/<int:pk>/count/", cloth_stock.count_roll, name="roll-count"),
    path("rolls/<int:pk>/take-out/", cloth_stock.take_out, name="roll-take-out"),
    path("notions/", notions.notion_list, name="notion-list"),
    path("notions/new/", notions.notion_new, name="notion-new"),
    path("notions/<int:pk>/", notions.notion_detail, name="notion-detail"),
    path("notions/<int:pk>/change/", notions.notion_change, name="notion-change"),
    path("notions/<int:pk>/delete/", notions.notion_delete, name="notion-delete"),
    path("notions/<int:pk>/colours/new/", notions.notion_colour_new, name="notion-colour-new"),
    path("notion-colours/<int:pk>/change/", notions.notion_colour_change, name="notion-colour-change"),
    path("notion-colours/<int:pk>/delete/", notions.notion_colour_delete, name="notion-colour-delete"),
    path("notion-colours/<int:pk>/receive/", notions.notion_receive, name="notion-receive"),
    path("notion-colours/<int:pk>/count/", notions.notion_count, name="notion-count"),
    path("notion-colours/<int:pk>/take-out/", notions.notion_take_out, name="notion-take-out"),
    path("suppliers/", suppliers.supplier_list, name="supplier-list"),
    path("suppliers/new/", suppliers.supplier_new, name="supplier-new"),
    path("suppliers/<int:pk>/", suppliers.supplier_change, name="supplier-change"),
    path("suppliers/<int:pk>/delete/", suppliers.supplier_delete, name="supplier-delete"),
    path("workroom/", workroom.workroom, name="workroom"),
]
