from django.urls import path

from results.site.whole import kept_whole

from . import piece, piece_more

app_name = "piece"
urlpatterns = [
    # /piece/
    path("", kept_whole(piece.pieces), name="pieces"),
    # /piece/share/, /piece/leverage/, /piece/movement/
    *(path(f"{name}/", kept_whole(piece_more.question), {"name": name}, name=name) for name in piece_more.QUESTIONS),
    path("<slug:name>/question/<slug:chart>.<slug:kind>", piece_more.question_chart, name="question-chart"),
    # /piece/<kind>/
    path("<slug:kind>/", kept_whole(piece.piece), name="piece"),
    path("<slug:kind>/sizes/", piece.piece_sizes, name="sizes"),
    path("<slug:kind>/chart/<slug:name>.<slug:form>", piece.piece_chart, name="chart"),
]
