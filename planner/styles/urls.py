from django.urls import path

from planner.styles.views import bands, edges, exports, files, outlines, parts, seams, styles

urlpatterns = [
    path("", styles.style_list, name="style-list"),
    path("new/", styles.style_new, name="style-new"),
    path("new/from-file/", files.style_from_file, name="style-from-file"),
    path("file/<int:pk>/", files.file_review, name="file-review"),
    path("file/<int:pk>/throw-away/", files.file_throw_away, name="file-throw-away"),
    path("<str:number>/files/", files.files_hold, name="files-hold"),
    path("<str:number>/", styles.style_detail, name="style-detail"),
    path("<str:number>/change/", styles.style_change, name="style-change"),
    path("<str:number>/copy/", styles.style_copy, name="style-copy"),
    path("<str:number>/retire/", styles.style_retire, name="style-retire"),
    path("<str:number>/pattern.<slug:ending>", exports.style_file, name="style-file"),
    path("<str:number>/pieces/<int:pk>/pattern.<slug:ending>", exports.piece_file, name="piece-file"),
    path("<str:number>/sizes/", styles.style_sizes, name="style-sizes"),
    path("<str:number>/section/<slug:section>/", styles.style_section, name="style-section"),
    path("<str:number>/pieces/<int:pk>/outline/", outlines.outline_edit, name="outline-edit"),
    path("<str:number>/pieces/<int:pk>/outline/look/", outlines.outline_preview, name="outline-preview"),
    path("<str:number>/pieces/<int:pk>/outline/drop/", outlines.outline_drop, name="outline-drop"),
    path("<str:number>/pieces/<int:pk>/edges/", edges.piece_edges_page, name="piece-edges"),
    path("<str:number>/pieces/<int:pk>/interpolate/", edges.outline_interpolate, name="outline-interpolate"),
    path("<str:number>/pieces/<int:pk>/band/", bands.piece_band, name="piece-band"),
    path("<str:number>/pieces/<int:pk>/band/look/", bands.piece_band_look, name="piece-band-look"),
    path("<str:number>/pieces/<int:pk>/band/drop/", bands.piece_band_drop, name="piece-band-drop"),
    path("<str:number>/seams/", seams.seam_walk, name="seam-walk"),
    path("<str:number>/seams/measure/", seams.seam_measure, name="seam-measure"),
    path("<str:number>/part/<slug:slug>/new/", parts.part_new, name="part-new"),
    path("<str:number>/part/<slug:slug>/<int:pk>/", parts.part_change, name="part-change"),
    path("<str:number>/part/<slug:slug>/<int:pk>/drop/", parts.part_drop, name="part-drop"),
    path("<str:number>/part/<slug:slug>/<int:pk>/move/", parts.part_move, name="part-move"),
]
