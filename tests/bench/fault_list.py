"""Every fault that a test must notice; `faults.py` puts them in and runs the tests."""

from __future__ import annotations

from bench.faults_around import AROUND_IT
from bench.faults_of_phone import OF_PHONE
from bench.faults_of_promises import OF_WHAT_IS_PROMISED

FAULTS = (*OF_WHAT_IS_PROMISED, *AROUND_IT, *OF_PHONE)
