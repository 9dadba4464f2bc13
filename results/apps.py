from django.apps import AppConfig


class ResultsConfig(AppConfig):
    name = "results"
    verbose_name = "Break-test records"
