"""Every letter as a PDF: each once, whole, under a name that stays in the folder; a missing one is told."""

from io import StringIO
from pathlib import Path

import pytest
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command

from clinic.letters import export
from clinic.models import Letter, LetterFile, Patient
from tests import letters
from tests.owners import a_letter, copy_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def letter() -> Letter:
    return a_letter()


def run(folder: Path) -> str:
    out = StringIO()
    call_command("export_letters", str(folder), stdout=out, stderr=out)
    return out.getvalue()


def test_every_letter_and_every_version_is_written_once(letter, tmp_path):
    newer = copy_of(letter)
    folder = tmp_path / "new" / "letters"
    assert run(folder) == "2 written, 0 were there, 0 could not be.\n"
    assert {path.name for path in folder.iterdir()} == {
        f"2026-03-11 Ludo, visit {letter.pk}.pdf",
        f"2026-03-11 Ludo, visit {newer.pk}, version 2.pdf",
    }
    assert all(path.read_bytes().startswith(b"%PDF") for path in folder.iterdir())


def test_what_was_stored_is_copied_as_it_is_and_what_was_not_is_not_stored(letter, tmp_path):
    copy_of(letter)
    stored = LetterFile.objects.get()
    run(tmp_path)
    assert (tmp_path / export.file_name(letter)).stat().st_size == stored.size
    assert LetterFile.objects.count() == 1


def test_a_second_run_goes_on_and_leaves_what_is_there(letter, tmp_path):
    newer = copy_of(letter)
    there = tmp_path / export.file_name(newer)
    there.write_bytes(b"mine")
    assert run(tmp_path) == "1 written, 1 were there, 0 could not be.\n"
    assert there.read_bytes() == b"mine"
    assert run(tmp_path) == "0 written, 2 were there, 0 could not be.\n"


def test_a_letter_that_cannot_be_written_is_told_and_the_others_are(letter, tmp_path):
    newer = copy_of(letter)
    sha = letter.file.sha256
    Path(default_storage.path(f"{sha[:2]}/{sha}.pdf")).unlink()
    out = StringIO()
    with pytest.raises(CommandError, match="1 letters are missing"):
        call_command("export_letters", str(tmp_path), stdout=out, stderr=out)
    assert f"letter {letter.pk} (2026-03-11): FileNotFoundError" in out.getvalue()
    assert [path.name for path in tmp_path.iterdir() if path.suffix == ".pdf"] == [export.file_name(newer)]
    assert not list(tmp_path.glob(".*.part"))


def test_a_changed_file_is_not_passed_on_as_the_letter(letter, tmp_path):
    sha = letter.file.sha256
    Path(default_storage.path(f"{sha[:2]}/{sha}.pdf")).write_bytes(b"%PDF other")
    with pytest.raises(CommandError):
        run(tmp_path / "out")


def test_a_folder_that_cannot_be_made_is_said(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(CommandError, match="cannot be written"):
        run(tmp_path / "file" / "below")


@pytest.mark.parametrize(
    ("name", "plain"),
    [
        ("../../etc/passwd", "etc passwd"),
        ("Zoë", "Zoe"),
        ("犬", "patient"),
        ("a\nb\0c", "a b c"),
        ("x" * 300, "x" * 40),
        (".", "patient"),
    ],
)
def test_a_name_stays_in_its_folder(name, plain, letter):
    letter.patient = Patient(name=name)
    assert export.file_name(letter) == f"2026-03-11 {plain}, visit {letter.pk}.pdf"


def test_the_condolence_s_name_says_so():
    case = letters.healthy()
    letter = case.freeze()
    letter.kind = "condolence"
    assert ", condolence " in export.file_name(letter)
