from django.urls import path

from . import submit, submit_drafts, submit_live, submit_template, submit_upload, submit_withdraw, where

app_name = "submit"
urlpatterns = [
    # /submit/
    path("", submit.start, name="start"),
    path("template.xlsx", submit_template.template, {"kind": "xlsx"}, name="template-xlsx"),
    path("template.csv", submit_template.template, {"kind": "csv"}, name="template-csv"),
    path("where/", where.where, name="where"),
    # /submit/form/
    path("form/", submit.form, name="form"),
    path("form/keep/", submit_live.keep_it, name="keep"),
    path("form/check/", submit_live.check_it, name="check"),
    path("form/<uuid:key>/throw-away/", submit_drafts.throw_away, name="throw-away"),
    # /submit/upload/<uuid>/
    path("upload/", submit_upload.send, name="send"),
    path("upload/<uuid:pk>/", submit_upload.upload, name="upload"),
    path("upload/<uuid:pk>/findings/", submit_upload.findings, name="findings"),
    # /submit/change/<study>/
    path("change/<int:pk>/", submit_upload.change_sheet, name="change-sheet"),
    path("change/<int:pk>/study.xlsx", submit_upload.study_sheet, {"kind": "xlsx"}, name="study-xlsx"),
    path("change/<int:pk>/study.csv", submit_upload.study_sheet, {"kind": "csv"}, name="study-csv"),
    # /submit/withdraw/<study>/
    path("withdraw/<int:pk>/", submit_withdraw.take_back, name="withdraw"),
]
