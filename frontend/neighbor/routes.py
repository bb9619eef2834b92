"""Addresses of the neighbor's pages. A draft's key and a note's secret alone open them."""

from django.urls import path

from frontend.neighbor.views import note, pictures, place, questions, sending, start

routes = [
    path("", start.start, name="start"),
    path("report/", start.begin, name="begin"),
    path("report/<str:key>/danger/", start.danger, name="report-danger"),
    path("report/<str:key>/stop/", start.stop, name="report-stop"),
    path("report/<str:key>/where/", place.where, name="report-where"),
    path("report/<str:key>/where/elsewhere/", place.elsewhere, name="report-elsewhere"),
    path("report/<str:key>/where/at/<slug:site>/", place.trees, name="report-trees"),
    path("report/<str:key>/signs/", questions.signs, name="report-signs"),
    path("report/<str:key>/overall/", questions.overall, name="report-overall"),
    path("report/<str:key>/extent/", questions.extent, name="report-extent"),
    path("report/<str:key>/photos/", questions.photos, name="report-photos"),
    path(
        "report/<str:key>/photos/<str:photo_key>/<str:size>/",
        pictures.draft_photo,
        name="draft-photo",
    ),
    path("report/<str:key>/words/", questions.words, name="report-words"),
    path("report/<str:key>/check/", sending.check, name="report-check"),
    path("report/<str:key>/sent/", sending.sent, name="report-sent"),
    path("report/<str:key>/another/", sending.another, name="report-another"),
    path("note/", start.look_up, name="look-up"),
    path("note/<str:secret>/", note.note, name="note"),
    path("note/<str:secret>/answer/", note.answer, name="note-answer"),
    path("note/<str:secret>/again/", note.again, name="note-again"),
    path(
        "note/<str:secret>/photos/<str:photo_key>/<str:size>/",
        pictures.note_photo,
        name="note-photo",
    ),
    path("photos/<slug:photo_key>/<str:size>/", pictures.photo, name="photo"),
]
