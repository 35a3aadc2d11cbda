"""The list of faults fits the program as it is; `python tests/bench/faults.py` puts them in."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench.fault import Fault
from bench.fault_list import FAULTS
from bench.faults import stands_once

ROOT = Path(__file__).parents[1]


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_fault_has_its_place_and_tests_that_should_notice_it(fault: Fault) -> None:
    assert stands_once(fault)
    assert fault.old != fault.new
    files = [one.split("::")[0] for one in fault.tests if one.startswith("tests/")]
    assert files
    assert all((ROOT / file).is_file() for file in files)


def test_no_two_faults_have_one_name() -> None:
    assert len({fault.name for fault in FAULTS}) == len(FAULTS)
