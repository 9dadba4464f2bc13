"""A sent spreadsheet: seen by its sender only, shown before it is saved, saved once, given back with findings."""

from __future__ import annotations

import errno
import html
import io

import pytest
from django.core.files.storage import FileSystemStorage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import load_workbook

from results.models import Study, Upload
from tests.factories import make_user
from tests.results.intake.made import csv_of, flat, four_sheets, workbook

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.fixture(autouse=True)
def _kept_apart(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def owner(client):
    user = make_user("owner")
    client.force_login(user)
    return user


def _send(client, data, name="tests.csv"):
    return client.post(reverse("submit:send"), {"file": SimpleUploadedFile(name, data)})


GOOD = workbook(four_sheets())
BAD = csv_of(flat({"specimen reading": "far"}, {"specimen notes": "<b>x</b>"})).encode()


def test_send_keeps_the_file_and_shows_what_was_read(client, owner):
    answer = _send(client, GOOD, "my tests.xlsx")

    upload = Upload.objects.get()
    assert answer.headers["Location"] == reverse("submit:upload", args=[upload.pk])
    assert (upload.user, upload.kind, upload.name, upload.size_bytes) == (owner, "xlsx", "my tests.xlsx", len(GOOD))
    assert upload.file.name == f"uploads/{upload.pk}.xlsx"
    page = client.get(answer.headers["Location"])
    assert page.context["read"] == {"setup": 1, "series": 2, "specimen": 8}
    text = page.content.decode()
    assert "Nothing looks wrong." in text
    assert "118.5 kg" in text
    assert "1 160" in text  # the same in newtons
    assert not Study.objects.exists()


def test_save_saves_and_leads_to_the_study_and_does_so_once(client, owner):
    url = _send(client, GOOD, "a.xlsx").headers["Location"]

    first, second = client.post(url), client.post(url)

    study = Study.objects.get()
    assert first.headers["Location"] == second.headers["Location"] == study.get_absolute_url()
    assert study.contributor == owner
    assert client.get(url).headers["Location"] == study.get_absolute_url()
    assert Upload.objects.get().study == study


def test_errors_are_shown_by_cell_and_nothing_is_saved(client, owner):
    url = _send(client, BAD).headers["Location"]

    text = html.unescape(client.get(url).content.decode())
    assert "cell S2" in text
    assert "Reading 'far' does not start with a number." in text
    assert 'action="' + reverse("submit:send") in text
    assert ">Save" not in text
    assert client.post(url).status_code == 422
    assert not Study.objects.exists()


def test_findings_come_back_in_the_file(client, owner):
    url = _send(client, BAD, 'my "tests".csv').headers["Location"]

    answer = client.get(f"{url}findings/")

    assert "attachment" in answer.headers["Content-Disposition"]
    assert "error: Reading 'far'" in answer.content.decode("utf-8-sig")
    sheets = four_sheets()
    sheets["specimens"][1][2] = "far"
    url = _send(client, workbook(sheets), "a.xlsx").headers["Location"]
    book = load_workbook(io.BytesIO(client.get(f"{url}findings/").content))
    assert book["specimens"]["E2"].value.startswith("error: Reading 'far'")


def test_upload_is_there_for_its_sender_only(client, owner):
    url = _send(client, GOOD, "a.xlsx").headers["Location"]
    client.force_login(make_user("stranger"))

    assert client.get(url).status_code == 404
    assert client.post(url).status_code == 404
    assert client.get(f"{url}findings/").status_code == 404
    client.logout()
    assert client.get(url).headers["Location"] == f"{reverse('login')}?next={url}"
    assert client.post(url).status_code == 302
    assert not Study.objects.exists()


@pytest.mark.parametrize(
    ("data", "name", "message"),
    [
        (b"", "a.csv", "The file 'a.csv' is empty (0 bytes)."),
        (b"x", "a.pdf", "Files ending in '.pdf' aren't taken. Send a CSV file, or a workbook saved as XLSX."),
        (b"x,y", "a.xlsx", "'a.xlsx' ends in .xlsx but holds no workbook."),
        (GOOD, "a.csv", "'a.csv' ends in .csv but holds a workbook"),
        (b"x" * 21_000_000, "a.csv", "'a.csv' has 21 MB; at most 20 MB are taken."),
    ],
)
def test_send_refuses_what_can_not_be_looked_at_and_keeps_nothing(client, owner, data, name, message):
    answer = _send(client, data, name)

    assert answer.status_code == 422
    assert message in html.unescape(answer.content.decode())
    assert not Upload.objects.exists()


def test_file_for_which_there_is_no_room_is_refused_each_time_anew(client, owner, monkeypatch):
    def full(*args, **kwargs):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(FileSystemStorage, "_save", full)

    first, second = (_send(client, GOOD, "a.xlsx") for _ in range(2))

    assert (first.status_code, second.status_code) == (507, 507)
    assert "The server has no room to keep your file; nothing of it was kept." in second.content.decode()
    # One that is raised again and again would gather what was going on at each time.
    assert first.context["refused"] is not second.context["refused"]
    assert not Upload.objects.exists()


def test_send_after_logging_in_leads_to_the_start(client, owner):
    assert client.get(reverse("submit:send")).headers["Location"] == reverse("submit:start")


def test_send_without_a_file_says_so(client, owner):
    answer = client.post(reverse("submit:send"))

    assert answer.status_code == 422
    assert "No file was chosen." in answer.content.decode()


def test_file_without_headings_is_kept_and_explained(client, owner):
    page = client.get(_send(client, b"1,2\n3,4\n").headers["Location"])

    assert page.status_code == 200
    assert "No row of headings was found in the file" in page.content.decode()


def test_preview_shows_markup_as_text(client, owner):
    rows = flat({}, {"specimen notes": "<b>x</b>"}, series="<script>alert(1)</script>")
    page = client.get(_send(client, csv_of(rows).encode(), "<img>.csv").headers["Location"])

    text = page.content.decode()
    assert "<script>alert" not in text
    assert "<img>" not in text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text


def test_preview_stops_after_two_hundred_specimens_and_counts_the_rest(client, owner):
    sheets = four_sheets()
    sheets["specimens"] += [["tenon", f"x{n}", 118 + n % 9, "broke"] for n in range(300)]
    page = client.get(_send(client, workbook(sheets), "a.xlsx").headers["Location"])

    assert page.context["preview"].left_out == 108
    assert "108 more would be saved" in page.content.decode()


def test_findings_beyond_two_hundred_are_counted(client, owner):
    sheets = four_sheets()
    sheets["specimens"] += [["tenon", f"x{n}", "far", "broke"] for n in range(300)]
    page = client.get(_send(client, workbook(sheets), "a.xlsx").headers["Location"])

    assert page.context["not_shown"] == 100
    assert "And 100 more" in page.content.decode()


def test_file_sent_before_is_said_to_have_been(client, owner):
    client.post(_send(client, GOOD, "a.xlsx").headers["Location"])

    page = client.get(_send(client, GOOD, "b.xlsx").headers["Location"])

    assert "This same file was sent before" in page.content.decode()


def test_start_lists_what_was_sent_and_not_saved(client, owner):
    _send(client, BAD, "half done.csv")

    assert "half done.csv" in client.get(reverse("submit:start")).content.decode()
    client.force_login(make_user("stranger"))
    assert "half done.csv" not in client.get(reverse("submit:start")).content.decode()


def test_refused_file_is_told_of_on_top_of_the_page(client, owner):
    page = html.unescape(_send(client, b"").content.decode())

    main = page[page.index("<main") :]
    notice = main.index('role="alert" id="found" tabindex="-1"')
    assert notice < main.index("The file 'tests.csv' is empty (0 bytes).") < main.index('class="ways"')
    assert main.count('role="alert"') == 1
    assert "js/submit.js" in page  # which puts the focus there


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("../../../etc/passwd.csv", "passwd.csv"),
        ("..\\..\\boot.csv", "boot.csv"),
        ("a\u202egnp.csv", "agnp.csv"),
        ("x" * 400 + ".csv", None),
    ],
)
def test_name_of_a_file_leads_nowhere_and_is_shown_as_text(client, owner, settings, name, shown):
    page = client.get(_send(client, BAD, name).headers["Location"])

    upload = Upload.objects.get()
    assert upload.file.name == f"uploads/{upload.pk}.csv"
    assert [path.name for path in settings.MEDIA_ROOT.rglob("*.csv")] == [f"{upload.pk}.csv"]
    assert len(upload.name) <= 200
    assert shown is None or upload.name.endswith(shown)
    assert "/" not in upload.name and "\u202e" not in page.content.decode()


def test_template_of_a_family_has_its_sizes_and_those_of_the_controls(client, owner):
    answer = client.get(reverse("submit:template-xlsx"), {"family": "dowel"})

    assert 'filename="breakbook-dowel.xlsx"' in answer.headers["Content-Disposition"]
    names = [cell.value for cell in load_workbook(io.BytesIO(answer.content))["series"][1]]
    assert {"fastener diameter", "member depth", "bond length"} <= set(names)
    assert "tenon length" not in names
    table = client.get(reverse("submit:template-csv"), {"family": "dowel"}).content.decode("utf-8-sig")
    assert "series fastener depth" in table and "series tenon length" not in table
    other = client.get(reverse("submit:template-xlsx"), {"family": "nonsense"})
    assert 'filename="breakbook-template.xlsx"' in other.headers["Content-Disposition"]
