from django.urls import path

from . import submit, submit_upload

app_name = "submit"
urlpatterns = [
    # /submit/
    path("", submit.start, name="start"),
    path("form/", submit.form, name="form"),
    path("template.xlsx", submit.template, {"kind": "xlsx"}, name="template-xlsx"),
    path("template.csv", submit.template, {"kind": "csv"}, name="template-csv"),
    # /submit/upload/<uuid>/
    path("upload/", submit_upload.send, name="send"),
    path("upload/<uuid:pk>/", submit_upload.upload, name="upload"),
    path("upload/<uuid:pk>/findings/", submit_upload.findings, name="findings"),
    # /submit/withdraw/<study>/
    path("withdraw/<int:pk>/", submit.take_back, name="withdraw"),
]
