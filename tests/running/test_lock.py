"""The lock that the system holds: gone with its process, whatever is written in the file."""

from pathlib import Path

from planner.running.lock import FileLock


def test_one_at_a_time(tmp_path: Path) -> None:
    first, second = FileLock(tmp_path / "lock"), FileLock(tmp_path / "lock")
    assert first.take()
    first.write_note({"pid": 1, "address": "http://127.0.0.1:1"})
    assert not second.take()
    assert second.read_note() == {"pid": 1, "address": "http://127.0.0.1:1"}
    first.release()
    assert second.take()
    second.release()


def test_a_file_left_over_is_no_obstacle(tmp_path: Path) -> None:
    (tmp_path / "lock").write_text("neither locked nor a note")
    lock = FileLock(tmp_path / "lock")
    assert lock.read_note() == {}
    assert lock.take()
    lock.write_note({"pid": 2})
    assert lock.read_note() == {"pid": 2}
    lock.release()
