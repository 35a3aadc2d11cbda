"""Fits are plain functions on plain data: they map over processes and a cluster's workers as is."""

from __future__ import annotations

import pickle

import dask
import dask.bag
import numpy as np
import pytest
from bench.compare_figures import Plan, season

import pointmodel as pm

FEW = Plan(nights=3, pairs=6)


@pytest.fixture(scope="module")
def logs() -> list[pm.NightLog]:
    return [one.log for one in season(FEW, 1).nights]


def test_fits_map_over_the_workers_of_a_cluster_unchanged(logs: list[pm.NightLog]) -> None:
    bag = dask.bag.from_sequence(logs, npartitions=2).map(pm.fit)
    fits = bag.compute(scheduler="processes", num_workers=2)
    for fit, log in zip(fits, logs, strict=True):
        assert fit.to_dict() == pm.fit(log).to_dict()
    assert pm.compare(fits).to_dict() == pm.compare(logs).to_dict()


def test_fits_run_in_threads_beside_each_other(logs: list[pm.NightLog]) -> None:
    fits = dask.compute(*[dask.delayed(pm.fit)(log) for log in logs], scheduler="threads")
    assert [fit.summary for fit in fits] == [pm.fit(log).summary for log in logs]


def test_a_log_and_its_fit_survive_the_way_to_another_process(logs: list[pm.NightLog]) -> None:
    fit = pm.fit(logs[0])
    sent = pickle.loads(pickle.dumps(fit))
    assert sent.to_dict() == fit.to_dict()
    assert not pickle.loads(pickle.dumps(logs[0])).time_s.flags.writeable
    command = sent.aim(np.array([10.0, 200.0]), np.array([30.0, 60.0]))
    assert np.array_equal(command, fit.aim(np.array([10.0, 200.0]), np.array([30.0, 60.0])))


def test_an_error_of_the_users_comes_back_from_a_worker_whole() -> None:
    delayed = dask.delayed(pm.fit)("no-such-log.csv")
    with pytest.raises(pm.InputError, match=r"no-such-log\.csv: read no file of that name"):
        delayed.compute(scheduler="processes", num_workers=1)


def test_a_season_on_several_processes_is_that_on_one(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    folder = tmp_path_factory.mktemp("season")
    for k, one in enumerate(season(Plan(nights=9, pairs=5), 2).nights):
        (folder / f"night-{k}.csv").write_text(one.to_csv_text(), encoding="utf-8")
    (folder / "night-x.csv").write_text("not,a,log\n", encoding="utf-8")
    done: list[None] = []
    found = pm.compare(folder, workers=2, progress=lambda: done.append(None))
    assert len(done) == 10
    assert found.to_dict() == pm.compare(folder).to_dict()
    assert [notice.code for notice in found.warnings] == ["skipped"]
