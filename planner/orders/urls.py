from django.urls import path

from planner.orders.views import customers, entering, reading

urlpatterns = [
    path("", reading.order_list, name="order-list"),
    path("new/", entering.order_new, name="order-new"),
    path("line/", entering.order_line, name="order-line"),
    path("estimate/", entering.order_estimate, name="order-estimate"),
    path("customers/", customers.customer_list, name="customer-list"),
    path("customers/<int:pk>/", customers.customer_edit, name="customer-edit"),
    path("<str:number>/", reading.order_detail, name="order-detail"),
    path("<str:number>/edit/", entering.order_edit, name="order-edit"),
    path("<str:number>/needs/", reading.order_needs, name="order-needs"),
    path("<str:number>/cancel/", reading.order_cancel, name="order-cancel"),
    path("<str:number>/dispatch/", reading.order_dispatch, name="order-dispatch"),
    path("<str:number>/reopen/", reading.order_reopen, name="order-reopen"),
    path("<str:number>/duplicate/", reading.order_duplicate, name="order-duplicate"),
]
