"""Does a tray's page tell its story, and is a look logged there once?"""

from __future__ import annotations

import io
from datetime import timedelta
from urllib.parse import quote
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from batches.models import ChangeNote, CheckPhoto, PlantMovement, TrayCheck
from batches.services import standing
from tests.factories import NOW, TODAY, TrayCheckFactory, TrayFactory, at

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


@pytest.fixture
def tray():
    one = TrayFactory(counted=80)
    standing.refold(trays=[one], recorded_at=NOW)
    one.refresh_from_db()
    return one


def page_of(tray) -> str:
    return reverse("batches:tray", args=[tray.code])


def look(tray, **fields):
    return {"record_id": str(uuid4()), "revision": tray.revision} | fields


def test_nothing_new_is_one_button_and_a_row(hand, tray):
    answer = hand.post(page_of(tray), look(tray), follow=True)
    check = TrayCheck.objects.get()
    assert (check.stage_seen, check.count, check.by) == ("", None, "Bryn Hale")
    assert "looked, nothing new" in answer.content.decode()
    assert "Undo" in answer.content.decode()


def test_the_same_form_sent_twice_is_stored_once_and_answers_as_the_first_time(
    hand, tray, later_clock
):
    form = look(tray, note="film beaded", count=70)
    first = hand.post(page_of(tray), form)
    later_clock()
    again = hand.post(page_of(tray), form)
    assert (again.status_code, again["Location"]) == (302, first["Location"])
    assert TrayCheck.objects.get().seen_at == NOW
    assert PlantMovement.objects.filter(kind="recount").count() == 1


def test_the_same_form_with_other_words_is_refused(hand, tray):
    form = look(tray, note="film beaded")
    hand.post(page_of(tray), form)
    answer = hand.post(page_of(tray), form | {"note": "film gone"})
    assert answer.status_code == 422
    assert TrayCheck.objects.get().note == "film beaded"


def test_a_stage_a_count_and_a_loss_are_stored_together(hand, tray):
    form = look(tray, stage_seen="gametophyte", count=70, lost=6, lost_cause="mould",
                signs=["mould", "heart_shapes"])  # fmt: skip
    hand.post(page_of(tray), form)
    tray.refresh_from_db()
    assert (tray.stage, tray.alive, tray.last_signs) == ("gametophyte", 70, "mould heart_shapes")
    kinds = PlantMovement.objects.standing().values_list("kind", "quantity")
    assert sorted(kinds) == [("in", 80), ("loss", 6), ("recount", -4)]


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"about": "on"}, "needs a number"),
        ({"lost_cause": "mould"}, "How many were lost?"),
        ({"count": "many"}, "whole number"),
        ({"lost": "90"}, "Nothing was stored"),
        ({"seen_at": "2027-01-01T09:00"}, "future"),
        ({"seen_at": "2026-01-01T09:00"}, "before tray"),
        ({"stage_seen": "potted_up"}, "valid choice"),
    ],
)
def test_bad_input_is_told_in_words_and_kept(hand, tray, fields, words):
    answer = hand.post(page_of(tray), look(tray, note="kept words", **fields))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    assert "kept words" in page
    assert TrayCheck.objects.count() == 0


def test_two_people_at_once_on_one_tray_are_told_apart(hand, office, tray):
    shown_to_both = tray.revision
    hand.post(page_of(tray), look(tray, count=79))
    answer = office.post(page_of(tray), look(tray, count=60, revision=shown_to_both))
    assert answer.status_code == 422
    assert "Somebody else wrote" in answer.content.decode()
    assert TrayCheck.objects.count() == 1


def test_a_photo_is_written_anew_and_a_trick_file_is_refused_with_the_look_kept(hand, tray):
    picture = io.BytesIO()
    Image.new("RGB", (2400, 1200), "green").save(picture, "JPEG", exif=b"Exif\0\0secret place")
    picture.name = "x.jpg"
    picture.seek(0)
    hand.post(page_of(tray), look(tray, photo=picture))
    (kept,) = CheckPhoto.objects.all()
    assert (kept.width, kept.height) == (1600, 800)
    answer = hand.get(reverse("batches:photo", args=[kept.pk]))
    assert b"secret place" not in b"".join(answer.streaming_content)
    trick = io.BytesIO(b"<svg onload=alert(1)>")
    trick.name = "y.jpg"
    tray.refresh_from_db()
    answer = hand.post(page_of(tray), look(tray, photo=trick), follow=True)
    assert "no JPEG, PNG or WebP" in answer.content.decode()
    assert (TrayCheck.objects.count(), CheckPhoto.objects.count()) == (2, 1)


def test_a_struck_out_look_stays_readable(hand, tray):
    hand.post(page_of(tray), look(tray, stage_seen="gametophyte"))
    check = TrayCheck.objects.get()
    strike = reverse("batches:tray-strike", args=[tray.code, "check", check.pk])
    page = hand.post(strike, follow=True).content.decode()
    assert "struck out by Bryn Hale" in page
    tray.refresh_from_db()
    assert tray.stage == "sown"


@pytest.mark.parametrize(
    "name",
    [
        "../../x.jpg", "/etc/x.jpg", "x" * 400 + ".jpg", "<svg onload=alert(1)>.jpg", "-rf.jpg",
        "a\x00.jpg", "con.jpg", ".jpg", "x.php", "\u202egpj.exe",
    ],
)  # fmt: skip
def test_a_photo_from_a_desk_is_named_by_its_id_whatever_it_was_called(
    hand, tray, name, settings, tmp_path
):
    settings.MEDIA_ROOT = tmp_path / "photos"
    picture = io.BytesIO()
    Image.new("RGB", (20, 10), "green").save(picture, "JPEG")
    sent = SimpleUploadedFile("x.jpg", picture.getvalue())
    vars(sent)["_name"] = name  # past the client's own care: what another program may send
    assert hand.post(page_of(tray), look(tray, photo=sent)).status_code == 302
    kept = CheckPhoto.objects.get()
    assert kept.file == f"{kept.pk}.jpg"
    assert {file.name for file in tmp_path.rglob("*.*")} == {kept.file}


@pytest.mark.parametrize("address", ["tray-strike", "today-undo-look"])
def test_others_looks_and_those_of_yesterday_are_struck_out_by_managers_alone(
    hand, office, manager, tray, address
):
    fresh, day_old = NOW - timedelta(hours=24), NOW - timedelta(hours=24, seconds=1)
    rows = {
        (by, at_): TrayCheckFactory(tray=tray, by=by, recorded_at=at_)
        for by in ("Bryn Hale", "Odile Marsh")
        for at_ in (fresh, day_old)
    }

    def strike(client, row):
        parts = [row.pk] if address == "today-undo-look" else [tray.code, "check", row.pk]
        return client.post(reverse(f"batches:{address}", args=parts)).status_code

    for client, own in ((hand, "Bryn Hale"), (office, "Odile Marsh")):
        refused = [strike(client, row) for key, row in rows.items() if key != (own, fresh)]
        assert refused == [404, 404, 404]
    assert TrayCheck.objects.standing().count() == 4
    noted = ChangeNote.objects.filter(what="strike-out refused", about=tray.code)
    assert {(note.by, note.before.strip('"')) for note in noted} == {
        (who, str(row.pk))
        for who in ("Bryn Hale", "Odile Marsh")
        for key, row in rows.items()
        if key != (who, fresh)
    }
    assert strike(hand, rows["Bryn Hale", fresh]) == 302
    assert [strike(manager, row) for key, row in rows.items() if key != ("Bryn Hale", fresh)] == [
        302, 302, 302,
    ]  # fmt: skip
    assert TrayCheck.objects.standing().count() == 0


def test_the_log_offers_a_strike_out_only_to_those_who_may(hand, manager, tray):
    old = TrayCheckFactory(tray=tray, by="Bryn Hale", recorded_at=NOW - timedelta(days=2))
    new = TrayCheckFactory(tray=tray, by="Bryn Hale", recorded_at=NOW)
    addresses = [
        reverse("batches:tray-strike", args=[tray.code, "check", row.pk]) for row in (old, new)
    ]
    for client, offered in ((hand, [False, True]), (manager, [True, True])):
        page = client.get(page_of(tray) + "?log=all").content.decode()
        assert [address in page for address in addresses] == offered
        assert ("a manager strikes out any" in page) is (client is hand)


def test_a_name_tapped_without_pin_or_badge_is_marked_in_the_log(hand, tray):
    for place, (by, verified) in enumerate(
        [("Tapped Only", False), ("With Badge", True), ("At A Desk", None), ("", False)]
    ):
        seen = NOW - timedelta(hours=place + 1)
        TrayCheckFactory(tray=tray, seen_at=seen, by=by, by_verified=verified)
    text = hand.get(page_of(tray), {"log": "all"}).content.decode()
    _, *entries = text.split('<li data-kind="look"')
    assert len(entries) == 4
    marked = [one for one in entries if "(name tapped, not proved)" in one]
    assert len(marked) == 1
    assert "Tapped Only" in marked[0]


def test_what_was_noted_is_shown_as_text(hand, tray):
    TrayCheckFactory(tray=tray, note="<script>alert(1)</script>{{ 7 }}", seen_at=at(TODAY))
    page = hand.get(page_of(tray)).content.decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;" in page
    assert "{{ 7 }}" in page


def test_a_label_scanned_opens_its_tray_whatever_the_case(hand, tray):
    answer = hand.get(reverse("batches:tray-short", args=[tray.code.lower()]))
    assert answer["Location"] == page_of(tray)


def test_a_code_that_is_not_ours_is_refused_in_words(hand):
    answer = hand.get("/t/26W14-073-05-B")
    assert answer.status_code == 404
    assert "Not one of ours" in answer.content.decode()


def test_a_cleared_trays_old_label_says_what_became_of_it(hand):
    gone = TrayFactory(ended_on=TODAY - timedelta(days=3), end="cleared")
    standing.refold(trays=[gone], recorded_at=NOW)
    page = hand.get(page_of(gone)).content.decode()
    assert "was cleared on" in page
    assert "Log a look" not in page


def test_queries_do_not_grow_with_the_history(hand, tray, django_assert_max_num_queries):
    def with_looks(how_many):
        for n in range(how_many):
            TrayCheckFactory(tray=tray, seen_at=at(TODAY - timedelta(days=n % 40)))

    with_looks(3)
    with django_assert_max_num_queries(40) as few:
        hand.get(page_of(tray))
    with_looks(27)
    with django_assert_max_num_queries(len(few)):
        hand.get(page_of(tray))


def test_a_label_scanned_by_a_tablet_opens_its_bench_page_with_the_code(tablet, hand):
    one = TrayFactory()
    address = reverse("batches:tray-short", args=[one.code])
    assert tablet.get(address)["Location"] == f"/bench/#t={one.code}"
    assert hand.get(address)["Location"] == f"/trays/{one.code}/"


@pytest.mark.parametrize(
    "scanned",
    [
        "javascript:alert(1)", "//a.example", "a.example", "<script>alert(1)</script>",
        "{{ 711|add:7000 }}", "A" * 4_000, "26W14-073-05-Q", "\u202eevil",
    ],
)  # fmt: skip
def test_a_label_that_is_none_of_ours_leads_nowhere_and_changes_nothing(
    hand: Client, tablet: Client, scanned: str
) -> None:
    path = f"/t/{quote(scanned, safe='')}"
    answer = hand.get(path)
    assert answer.status_code == 404
    page = answer.content.decode()
    assert "<script>alert" not in page
    assert "7711" not in page
    led = tablet.get(path)  # its own page, whatever the code says
    assert led.status_code == 404 or led["Location"].startswith("/bench/")
    assert not ChangeNote.objects.exists()
