from django.urls import path

from planner.cutting.views import batches, buying, exports, lays, needs, plans, printing

urlpatterns = [
    path("", batches.batch_list, name="batch-list"),
    path("new/", batches.batch_new, name="batch-new"),
    path("buy/", buying.buy_page, name="buy-page"),
    path("buy/list/", printing.buy_list_all, name="buy-list"),
    path("<str:number>/", batches.batch_detail, name="batch-detail"),
    path("<str:number>/running/", batches.batch_running, name="batch-running"),
    path("<str:number>/needs/", needs.batch_needs, name="batch-needs"),
    path("<str:number>/orders/", batches.batch_fill, name="batch-fill"),
    path("<str:number>/plan/", batches.batch_plan, name="batch-plan"),
    path("<str:number>/take-back/", batches.batch_take_back, name="batch-take-back"),
    path("<str:number>/cancel/", batches.batch_cancel, name="batch-cancel"),
    path("<str:number>/rolls/", plans.batch_rolls, name="batch-rolls"),
    path("<str:number>/plans/<int:plan>/aim/", plans.plan_aim, name="plan-aim"),
    path("<str:number>/plans/<int:plan>/plies/", plans.plan_plies, name="plan-plies"),
    path("<str:number>/plans/<int:plan>/sizes/", plans.plan_kinds, name="plan-kinds"),
    path(
        "<str:number>/plans/<int:plan>/choices/<int:choice>/back/",
        plans.plan_choice_back,
        name="plan-choice-back",
    ),
    path("<str:number>/lays/<int:lay_number>/keep/", plans.lay_keep, name="lay-keep"),
    path("<str:number>/notions/", batches.batch_notions, name="batch-notions"),
    path("<str:number>/lays/<int:lay_number>/", lays.lay_detail, name="lay-detail"),
    path("<str:number>/lays/<int:lay_number>/stop/", lays.lay_stop, name="lay-stop"),
    path("<str:number>/lays/<int:lay_number>/longer/", lays.lay_longer, name="lay-longer"),
    path("<str:number>/lays/<int:lay_number>/cut/", lays.lay_cut, name="lay-cut"),
    path("<str:number>/lays/<int:lay_number>/not-cut/", lays.lay_uncut, name="lay-uncut"),
    path(
        "<str:number>/lays/<int:lay_number>/told/<int:fact>/back/", lays.lay_fact_back, name="lay-fact-back"
    ),
    path("<str:number>/lays/<int:lay_number>/rest/", lays.lay_rest, name="lay-rest"),
    path("<str:number>/lays/<int:lay_number>/rest/back/", lays.lay_rest_back, name="lay-rest-back"),
    path("<str:number>/lays/<int:lay_number>/projector/", lays.lay_projector, name="lay-projector"),
    path("<str:number>/lays/<int:lay_number>/lay.<slug:ending>", exports.lay_file, name="lay-file"),
    path("<str:number>/lays/<int:lay_number>/marker/", exports.lay_marker, name="lay-marker"),
    path("<str:number>/lays/<int:lay_number>/tiles.pdf", exports.marker_tiles_pdf, name="marker-tiles"),
    path("<str:number>/lays/<int:lay_number>/marker.pdf", exports.marker_wide_pdf, name="marker-wide"),
    path("<str:number>/print/<slug:paper>/", printing.print_paper, name="print-paper"),
    path("<str:number>/cut-sheet.pdf", printing.cut_sheet_pdf, name="cut-sheet"),
    path("<str:number>/cut-tickets.pdf", printing.cut_tickets_pdf, name="cut-tickets"),
    path("<str:number>/bundle-tickets.pdf", printing.bundle_tickets_pdf, name="bundle-tickets"),
    path("<str:number>/buy-list/", printing.batch_buy_list, name="batch-buy-list"),
    path("<str:number>/plan.json", printing.plan_file, name="plan-file"),
]
