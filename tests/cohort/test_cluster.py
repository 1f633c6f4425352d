"""A real Dask cluster of two worker processes gives the bytes of one process of this machine, though one is killed."""

import importlib.util
import json
import os
import signal
import threading
import time
from pathlib import Path

import pytest

from imu_rom.cohort.analysing import analyse_cohort
from imu_rom.cohort.dataset import Dataset
from imu_rom.cohort.plans import read_cohort_plans
from imu_rom.cohort.pools import ClusterPool
from imu_rom_cli import main

pytestmark = [
    pytest.mark.skipif(
        importlib.util.find_spec("distributed") is None and os.environ.get("CI") != "true",
        reason="needs distributed, which is not installed here",
    ),
    # what the cluster's own threads say when a worker is killed under them
    pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
]


@pytest.fixture(scope="module")
def address():
    import distributed

    # workers import what they do by name, this folder's own work too
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(os.fspath(Path(__file__).parent))
        here = [os.fspath(Path(__file__).parent), os.environ.get("PYTHONPATH", "")]
        patch.setenv("PYTHONPATH", os.pathsep.join(each for each in here if each))
        with distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs="CRITICAL"
        ) as cluster:
            yield cluster.scheduler_address


def test_a_worker_that_is_killed_midway_changes_nothing(copied, by_one_worker, address, tmp_path, digest):
    from deadly_work import wait_for_the_end_of_the_first

    workers, out = copied / "workers", tmp_path / "out"
    workers.mkdir()
    killed = []

    def kill_one():
        until = time.monotonic() + 60
        while not killed and time.monotonic() < until:
            time.sleep(0.02)
            for each in workers.glob("first/*"):
                os.kill(int(each.name), signal.SIGKILL)
                killed.append(each.name)

    thread = threading.Thread(target=kill_one)
    thread.start()
    dataset, plans = Dataset.at(str(copied / "dataset")), read_cohort_plans(copied / "plans")
    reading = analyse_cohort(dataset, plans, out, ClusterPool(address), work=wait_for_the_end_of_the_first)
    thread.join(60)
    assert killed
    assert reading.used == 4
    assert digest(out) == digest(by_one_worker)


def test_a_run_on_a_cluster_that_was_interrupted_goes_on(copied, by_one_worker, address, tmp_path, digest, capsys):
    from stopped_run import stop_after_the_first

    out = tmp_path / "out"
    words = ["cohort", str(copied / "dataset"), "--plan", str(copied / "plans"), "--out", str(out)]
    words += ["--scheduler", address, "--json"]
    _, returned, err = stop_after_the_first(words, signal.SIGINT)
    # what the cluster's workers have begun they end by themselves
    (copied / "go").touch()
    assert returned == 130
    assert "Interrupted; what is finished is kept, and the same command goes on." in err
    assert "Traceback" not in err
    assert not (out / "tables").exists()
    assert main(words) == 0
    end = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert end["kept"] == 1
    assert digest(out) == digest(by_one_worker)


def test_the_command_goes_on_by_a_cluster(simulated, begun, by_one_worker, address, digest, capsys):
    words = ["cohort", str(simulated / "dataset"), "--plan", str(simulated / "plans"), "--out", str(begun)]
    assert main([*words, "--scheduler", address]) == 0
    assert "Worked on now: 0" in capsys.readouterr().out
    assert digest(begun) == digest(by_one_worker)


def test_a_cluster_that_is_not_there_is_one_sentence(simulated, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("imu_rom.cohort.pools._CONNECT_S", 0.5)
    words = ["cohort", str(simulated / "dataset"), "--plan", str(simulated / "plans"), "--out", str(tmp_path / "out")]
    assert main([*words, "--scheduler", "tcp://127.0.0.1:9"]) == 2
    err = capsys.readouterr().err
    assert err.startswith("imu-rom: tcp://127.0.0.1:9: can't be reached: ")
    assert err.count("\n") == 1
