"""A batch goes on where it was stopped, does nothing twice, and no recording can stop it."""

import errno
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from functools import partial
from pathlib import Path

import msgspec
import pytest

from analyzer import finished, worker
from analyzer.collection import Errand, survey_all, survey_one
from analyzer.collection_tables import collect
from analyzer.errors import UnusableInput
from analyzer.finished import Record
from analyzer.folder import read_folder
from analyzer.intake import Found, Words
from analyzer.prices import read_prices
from analyzer.triage import NEEDS
from analyzer.workers import Hand, Limits, Stopped
from analyzer.writing import _prefix
from tests.tiny_harps import write_collection, write_layout, write_recording

LIMITS = Limits(seconds=120, mb=2000)
ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def harps(tmp_path_factory):
    """Three good recordings and one that is none, with their layout."""
    home = tmp_path_factory.mktemp("harps")
    write_layout(home)
    write_collection(home / "in", 3)
    (home / "in" / "text.wav").write_text("these are not samples", encoding="utf-8")
    return home


@pytest.fixture(scope="module")
def found(harps):
    return read_folder(harps / "in", Words(layout=str(harps / "tiny.toml"), tuning="E-flat"))


@pytest.fixture(scope="module")
def done(found, tmp_path_factory):
    """An undisturbed run."""
    out = tmp_path_factory.mktemp("done")
    return out, survey_all(found.items, errand(out), workers_n=1)


def errand(out, **changes):
    return replace(Errand(folder=out, reports="none", prices={}, limits=LIMITS), **changes)


def contents(out):
    """Everything below a folder but the locks: name -> bytes."""
    return {
        p.relative_to(out).as_posix(): p.read_bytes()
        for p in sorted(out.rglob("*"))
        if p.is_file() and ".locks" not in p.parts
    }


def whens(out):
    return {p: p.stat().st_mtime_ns for p in out.rglob("survey.json")}


def test_one_bad_recording_is_a_row_with_its_reason(found, done):
    table = collect(found, done[1], priced=False)
    assert {row.item.instrument: row.line.heard_n for row in table.rows} == {f"harp {k:02d}": 10 for k in range(3)}
    assert [(f.recording, f.instrument) for f in table.failures] == [("text.wav", "text")]
    assert "not a recording" in table.failures[0].reason.lower()
    assert str(done[0].parent) not in table.failures[0].reason


def test_finished_work_is_not_done_again(found, done):
    out, _ = done
    before = whens(out)
    again = survey_all(found.items, errand(out), workers_n=1)
    assert all(outcome.found for outcome in again.values())
    assert whens(out) == before


def test_two_workers_give_the_same_bytes_as_one(found, done, tmp_path):
    survey_all(found.items, errand(tmp_path), workers_n=2)
    assert contents(tmp_path) == contents(done[0])


def copied(done, tmp_path):
    out = tmp_path / "out"
    shutil.copytree(done[0], out)
    return out


def not_found(found, out, **changes):
    """Which instruments a run does again."""
    names = {item.key: item.instrument for item in found.items}
    outcomes = survey_all(found.items, errand(out, **changes), workers_n=1)
    return sorted(names[key] for key, outcome in outcomes.items() if not outcome.found)


def test_only_what_changed_is_done_again(found, done, tmp_path, monkeypatch):
    out = copied(done, tmp_path)
    first, second, third, _ = found.items
    other_day = replace(first, date="2026-03-01")
    assert not_found(Found(items=(other_day, second, third)), out) == ["harp 00"]
    (out / "instruments" / second.key / "strings.csv").unlink()
    assert not_found(Found(items=(other_day, second, third)), out) == ["harp 01"]
    (out / "instruments" / third.key / "batch.json").write_text("{", encoding="utf-8")
    assert not_found(Found(items=(other_day, second, third)), out) == ["harp 02"]
    monkeypatch.setattr(finished, "VERSION", "another")
    assert not_found(Found(items=(second,)), out) == ["harp 01"]


def test_a_recording_replaced_under_its_name_is_done_again(harps, tmp_path):
    shutil.copytree(harps / "in", tmp_path / "in")
    words = Words(layout=str(harps / "tiny.toml"))
    found = read_folder(tmp_path / "in", words)
    assert len(not_found(found, tmp_path / "out")) == 4
    (tmp_path / "in" / "text.wav").unlink()
    write_recording(tmp_path / "in" / "text.wav", 5)
    os.utime(tmp_path / "in" / "harp 00.flac", (1, 1))
    assert not_found(found, tmp_path / "out") == ["text"]


def test_a_price_list_makes_lines_again_and_no_survey(harps, tmp_path):
    write_recording(tmp_path / "in" / "gap.flac", 1, missing=("A4",))
    found = read_folder(tmp_path / "in", Words(layout=str(harps / "tiny.toml"), missing="A4"))
    out = tmp_path / "out"
    survey_all(found.items, errand(out), workers_n=1)
    before = whens(out)
    (tmp_path / "prices.csv").write_text("string,price\nA4,4.50\n", encoding="utf-8")
    prices = {"tiny-10": read_prices(tmp_path / "prices.csv", found.items[0].layout)}
    (outcome,) = survey_all(found.items, errand(out, prices=prices), workers_n=1).values()
    assert outcome.found
    assert outcome.record.line.purchase_total == 4.50
    assert whens(out) == before


def test_of_the_parts_of_a_harp_those_that_can_be_used_are(harps, tmp_path):
    write_recording(tmp_path / "harp part 1.flac", 1)
    (tmp_path / "harp part 2.wav").write_bytes(b"nothing")
    found = read_folder(tmp_path, Words(layout=str(harps / "tiny.toml")))
    table = collect(found, survey_all(found.items, errand(tmp_path / "out"), workers_n=1), priced=False)
    assert [row.line.heard_n for row in table.rows] == [10]
    assert [f.recording for f in table.failures] == ["harp part 2.wav"]


def test_a_limit_of_time_is_a_row_and_another_limit_tries_again(found, tmp_path):
    item = found.items[0]
    outcome = survey_one(item, errand(tmp_path, limits=Limits(seconds=0.05, mb=2000)))
    assert "longer than 0.05 s" in outcome.record.failures[0][1]
    assert survey_one(item, errand(tmp_path, limits=Limits(seconds=0.05, mb=2000))).found
    outcome = survey_one(item, errand(tmp_path))
    assert not outcome.found
    assert outcome.record.failures == ()


def test_a_limit_of_memory_is_a_row(found, tmp_path):
    outcome = survey_one(found.items[0], errand(tmp_path, limits=Limits(seconds=120, mb=5)))
    assert "more than 5 MB" in outcome.record.failures[0][1]


def test_a_worker_that_dies_is_a_reason_and_the_next_order_has_a_new_one(found, monkeypatch):
    hand = Hand()
    item = found.items[0]
    order = worker.Order(item=item, paths=(os.fsencode(item.recordings[0]),), reports="none", prices=None)
    try:
        assert hand.ask(order, LIMITS).line.heard_n == 10
        hand._process.kill()
        hand._process.wait()
        assert hand.ask(order, LIMITS).line.heard_n == 10
        monkeypatch.setattr(sys, "executable", shutil.which("false") or sys.executable)
        hand.close()
        if sys.executable.endswith("false"):
            with pytest.raises(Stopped, match="was ended"):
                hand.ask(order, LIMITS)
    finally:
        hand.close()


def test_a_worker_ends_with_the_batch_that_it_belongs_to(found):
    """Its input ends while it listens."""
    item = found.items[0]
    order = worker.Order(item=item, paths=(os.fsencode(item.recordings[0]),), reports="full", prices=None)
    words = [sys.executable, "-m", "analyzer.worker"]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT) as process:
        worker.send(process.stdin, msgspec.msgpack.encode(order))
        assert process.communicate(timeout=60)[0] == b""
    assert process.returncode == 0


def test_a_fault_of_ours_is_a_row_too(found, monkeypatch):
    monkeypatch.setattr(worker, "_surveyed", lambda order: 1 / 0)
    order = worker.Order(item=found.items[0], paths=(), reports="none", prices=None)
    answer = worker._answered(order)
    assert "ZeroDivisionError" in answer.failures[0][1]


def test_another_batch_at_the_instrument_is_left_to_it(found, tmp_path):
    import filelock

    item = found.items[0]
    locks = tmp_path / "instruments" / ".locks"
    locks.mkdir(parents=True)
    with filelock.FileLock(str(locks / f"{item.key}.lock")):
        assert survey_one(item, errand(tmp_path)).record is None
    assert survey_one(item, errand(tmp_path)).record.line.heard_n == 10


def test_a_full_disk_is_a_sentence_and_earlier_results_stay(found, done, tmp_path, monkeypatch):
    out = copied(done, tmp_path)
    before = contents(out)
    write = os.fsync

    def full(handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    new = replace(found.items[0], instrument="new", key="new-0")
    with pytest.raises(UnusableInput, match="disk is full"):
        survey_all((new, *found.items), errand(out), workers_n=1)
    monkeypatch.setattr(os, "fsync", write)
    assert {n: b for n, b in contents(out).items() if "new-0" not in n} == before
    assert not list((out / "instruments").glob("new-0*/*"))


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="permissions do not bind the superuser")
def test_a_folder_that_may_not_be_written_is_a_sentence(found, tmp_path):
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(UnusableInput, match="not permitted"):
            survey_all(found.items, errand(tmp_path / "out"), workers_n=1)
    finally:
        tmp_path.chmod(0o700)


def test_a_file_in_place_of_the_folder_is_a_sentence(found, tmp_path):
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    with pytest.raises(UnusableInput, match="cannot be written"):
        survey_all(found.items, errand(tmp_path / "out"), workers_n=1)
    assert (tmp_path / "out").read_text(encoding="utf-8") == "mine"


def test_what_a_killed_batch_was_writing_is_taken_away(found, done, tmp_path):
    out = copied(done, tmp_path)
    for folder in (out / "instruments" / item.key for item in found.items):
        (folder.parent / f"{_prefix(folder)}0" / "new").mkdir(parents=True)
        (folder.parent / f"{_prefix(folder)}0" / "new" / "survey.json").write_bytes(b"{")
    survey_all(found.items, errand(out), workers_n=1)
    assert contents(out) == contents(done[0])


def test_a_record_cannot_lead_out_of_its_folder(found, done, tmp_path):
    """A `batch.json` that somebody changed names a file elsewhere to be taken away."""
    out = copied(done, tmp_path)
    item = found.items[0]
    mine = tmp_path / "mine.txt"
    mine.write_text("mine", encoding="utf-8")
    home = out / "instruments" / item.key
    known = finished.read_record(home)
    evil = Record(**{**{f: getattr(known, f) for f in Record.__slots__}, "files": ("../../../mine.txt",)})
    (home / "batch.json").write_bytes(finished.to_json(evil))
    survey_one(replace(item, date="2026-03-01"), errand(out))
    assert mine.exists()


def command(harps, out, *more):
    words = ("--layout", str(harps / "tiny.toml"), "--tuning", "E-flat", "--workers", "2", "--reports", "summary")
    return [sys.executable, "-m", "analyzer", "batch", str(harps / "in"), "--out", str(out), *words, *more]


def killed_at_random(harps, reference, tmp_path, rounds):
    """Kill a batch at random moments, alone or with its workers, or interrupt it, and go on; whenever one gets through,
    begin anew."""
    rng = random.Random(1)
    out, span_s, killed_n = tmp_path / "out-0", 6.0, 0
    ended: dict[Path, int] = {}
    while killed_n < rounds:
        start_s = time.monotonic()
        process = subprocess.Popen(
            command(harps, out),
            cwd=ROOT,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
            preexec_fn=partial(signal.signal, signal.SIGINT, signal.SIG_DFL),  # what runs behind a shell has it ignored
        )
        try:
            assert process.wait(timeout=rng.uniform(0.3, 1.2 * span_s)) == 0
            span_s = max(2.0, time.monotonic() - start_s)
        except subprocess.TimeoutExpired:
            killed_n += 1
            end, how = rng.choice(((os.killpg, signal.SIGKILL), (os.kill, signal.SIGKILL), (os.killpg, signal.SIGINT)))
            end(process.pid, how)
            process.wait(timeout=60)
        for path, when in ended.items():
            assert path.stat().st_mtime_ns == when, f"{path} was done twice"
        if process.returncode == 0:
            assert contents(out) == reference
            out, ended = tmp_path / f"out-{killed_n}", {}
        ended |= {p: p.stat().st_mtime_ns for p in out.glob("instruments/*/batch.json")}
    subprocess.run(command(harps, out), cwd=ROOT, check=True, stderr=subprocess.DEVNULL)
    assert contents(out) == reference


@pytest.fixture(scope="module")
def reference(harps, tmp_path_factory):
    out = tmp_path_factory.mktemp("reference") / "out"
    subprocess.run(command(harps, out), cwd=ROOT, check=True, stderr=subprocess.DEVNULL)
    return contents(out)


@pytest.mark.skipif(os.name == "nt", reason="a group of processes is killed otherwise there")
def test_killed_at_random_moments_and_gone_on_gives_the_same_bytes(harps, reference, tmp_path):
    killed_at_random(harps, reference, tmp_path, rounds=3)


@pytest.mark.long
@pytest.mark.skipif(os.name == "nt", reason="a group of processes is killed otherwise there")
def test_killed_fifty_times_in_a_batch_of_forty(tmp_path_factory, tmp_path):
    home = tmp_path_factory.mktemp("forty")
    write_layout(home)
    write_collection(home / "in", 40)
    subprocess.run(command(home, tmp_path / "reference"), cwd=ROOT, check=True, stderr=subprocess.DEVNULL)
    killed_at_random(home, contents(tmp_path / "reference"), tmp_path, rounds=50)


def test_two_batches_on_one_folder_at_once(harps, reference, tmp_path):
    out = tmp_path / "out"
    both = [
        subprocess.Popen(command(harps, out), cwd=ROOT, stderr=subprocess.PIPE, text=True, encoding="utf-8")
        for _ in range(2)
    ]
    said = [process.communicate(timeout=300)[1] for process in both]
    assert [process.returncode for process in both] == [0, 0], said
    assert contents(out) == reference


def test_two_workers_of_a_cluster_give_the_same_bytes(harps, reference, tmp_path):
    """A scheduler and two workers of Dask, started here and reached by their address."""
    pytest.importorskip("distributed")
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, local_directory=str(tmp_path / "dask")
    ) as cluster:
        subprocess.run(
            command(harps, tmp_path / "out", "--dask", cluster.scheduler_address),
            cwd=ROOT,
            check=True,
            stderr=subprocess.DEVNULL,
        )
    assert contents(tmp_path / "out") == reference


def test_recordings_at_an_address_are_fetched_by_the_worker(harps, found, tmp_path):
    pytest.importorskip("fsspec")
    item = replace(found.items[0], recordings=(f"file://{harps}/in/harp 00.flac",))
    assert survey_one(item, errand(tmp_path)).record.line.heard_n == 10
    gone = replace(item, recordings=("file:///nowhere/gone.flac",), key="gone-0")
    assert "cannot be fetched" in survey_one(gone, errand(tmp_path)).record.failures[0][1]
    endless = replace(item, recordings=("file:///dev/zero",), key="endless-0")
    if os.path.exists("/dev/zero"):  # noqa: PTH110 - a device, not a file
        hurried = errand(tmp_path, limits=Limits(seconds=0.2, mb=2000))
        assert "longer than 0.2 s" in survey_one(endless, hurried).record.failures[0][1]


def test_the_order_of_work_is_that_of_the_needs(found, done):
    rows = collect(found, done[1], priced=False).rows
    assert [NEEDS.index(row.line.need) for row in rows] == sorted(NEEDS.index(row.line.need) for row in rows)
    assert all(row.line.why.endswith(".") for row in rows)
