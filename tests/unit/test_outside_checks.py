"""The list of outside checks says no more than the tests do."""

import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from outside_checks import outside_checks, printed

ROOT = Path(__file__).parents[2]
CHECKS = outside_checks()


@pytest.fixture(scope="module")
def collected() -> Counter[str]:
    """Cases that pytest makes of each test in the files that the list names."""
    files = sorted({test.partition("::")[0] for check in CHECKS for test in check.tests})
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "--collect-only", "-q", "-p", "no:cacheprovider", *files],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    ids = [line.partition("[")[0] for line in done.stdout.splitlines() if "::" in line]
    return Counter(ids)


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.subject)
def test_every_named_test_exists_with_as_many_cases(check, collected) -> None:
    assert [test for test in check.tests if not collected[test]] == []
    assert sum(collected[test] for test in check.tests) == check.cases


def test_no_subject_and_no_test_stands_there_twice() -> None:
    tests = [test for check in CHECKS for test in check.tests]
    subjects = [check.subject for check in CHECKS]
    assert len(tests) == len(set(tests)) and len(subjects) == len(set(subjects))


def test_the_list_is_printed_with_counts_and_sources() -> None:
    said = printed(CHECKS)
    assert all(check.source in said and check.compared in said for check in CHECKS)
    assert f"{sum(check.cases for check in CHECKS)} test cases" in said
