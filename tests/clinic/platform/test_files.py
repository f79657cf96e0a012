import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.core.files.storage import default_storage

from clinic.platform import files


def test_what_is_kept_is_read_back_under_its_hash():
    name = files.keep(b"%PDF letter", ".pdf")
    assert name == files.content_name(b"%PDF letter", ".pdf")
    assert files.read(name) == b"%PDF letter"


def test_the_same_bytes_are_stored_once_and_never_written_again():
    name = files.keep(b"picture", ".jpg")
    written = Path(default_storage.path(name)).stat()
    assert files.keep(b"picture", ".jpg") == name
    again = Path(default_storage.path(name)).stat()
    assert (again.st_ino, again.st_mtime_ns) == (written.st_ino, written.st_mtime_ns)


def test_changed_bytes_are_noticed():
    name = files.keep(b"as signed", ".pdf")
    Path(default_storage.path(name)).write_bytes(b"as forged")
    with pytest.raises(files.WrongFile):
        files.read(name)


def test_a_kept_file_is_closed_to_others():
    name = files.keep(b"private", ".pdf")
    assert Path(default_storage.path(name)).stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("suffix", ["pdf", ".PDF", "./../x", ".", ""])
def test_a_senseless_suffix_is_refused(suffix):
    with pytest.raises(ValueError, match="suffix"):
        files.content_name(b"x", suffix)


def test_the_sweep_sees_old_files_and_leaves_young_and_half_written_ones():
    name = files.keep(b"old", ".pdf")
    Path(default_storage.path(name)).with_name(".half.part").write_bytes(b"h")
    now = datetime.now(UTC)
    assert list(files.names(before=now + timedelta(minutes=1))) == [name]
    assert list(files.names(before=now - timedelta(minutes=1))) == []


def test_many_writers_of_one_file_leave_one_whole_file():
    content = b"x" * 1_000_000
    writers = [threading.Thread(target=files.keep, args=(content, ".bin")) for _ in range(8)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    folder = Path(default_storage.path(files.content_name(content, ".bin"))).parent
    assert [file.read_bytes() == content for file in folder.iterdir()] == [True]
