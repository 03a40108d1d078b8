"""Every example in this room's docstrings runs, and every public name has a docstring."""

import doctest
import inspect
import pkgutil
from datetime import UTC, date, datetime
from importlib import import_module
from types import ModuleType

import pytest

from reminder_service import rules

MODULES = [
    import_module(f"{rules.__name__}.{module.name}")
    for module in pkgutil.iter_modules(rules.__path__)
]
NAMES = {"date": date, "datetime": datetime, "UTC": UTC}


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_examples_run(module: ModuleType) -> None:
    result = doctest.testmod(module, extraglobs=NAMES | vars(rules_plan()))
    assert result.failed == 0


def rules_plan() -> ModuleType:
    return import_module("reminder_service.rules.plan")


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_public_names_are_described(module: ModuleType) -> None:
    own = [
        value
        for name, value in vars(module).items()
        if not name.startswith("_") and getattr(value, "__module__", "") == module.__name__
    ]
    described = [value for value in own if inspect.isroutine(value) or inspect.isclass(value)]
    assert inspect.getdoc(module)
    assert [value for value in described if not value.__doc__] == []
