"""Every public function cites its source, every key resolves, and every example runs."""

import doctest
import inspect
import pkgutil
import re
from collections.abc import Iterator
from importlib import import_module
from types import FunctionType, ModuleType

import pytest

from reminder_service import agronomy
from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.sources import source, sources

MODULES = [
    import_module(f"{agronomy.__name__}.{module.name}")
    for module in pkgutil.iter_modules(agronomy.__path__)
]
PHRASES = {"Arithmetic.": "arithmetic", "Common practice, no source.": "common-practice"}


def public_functions() -> Iterator[FunctionType]:
    """Public functions of all agronomy modules, each where it is defined."""
    for module in MODULES:
        for name, function in vars(module).items():
            function = inspect.unwrap(function) if callable(function) else function
            if isinstance(function, FunctionType) and not name.startswith("_"):
                if function.__module__ == module.__name__:
                    yield function


def cited(function: FunctionType) -> set[str]:
    """Keys that a function's References section cites."""
    text = inspect.getdoc(function) or ""
    section = re.search(r"^References\n-+\n(.*?)(?=\n\n\w+\n-{3,}|\Z)", text, re.S | re.M)
    body = " ".join(section[1].split()) if section else ""
    phrases = {key for phrase, key in PHRASES.items() if phrase in body}
    return phrases | set(re.findall(r"\[([\w-]+)\]", body))


FUNCTIONS = list(public_functions())


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f.__qualname__)
def test_function_cites_sources_that_resolve(function: FunctionType) -> None:
    keys = cited(function)
    assert keys
    assert keys <= sources().keys()


def test_functions_of_every_module_are_looked_at() -> None:
    seen = {function.__module__ for function in FUNCTIONS}
    assert seen == {module.__name__ for module in MODULES}


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_figures_in_comments_name_keys_that_resolve(module: ModuleType) -> None:
    named = re.findall(r"\bS\d+\b", inspect.getsource(module))
    assert set(named) <= sources().keys()


def test_no_source_stands_unused() -> None:
    text = "\n".join(inspect.getsource(module) for module in MODULES).lower()
    unused = [
        key
        for key in sources()
        if not re.search(rf"\b{re.escape(key.lower().replace('-', ' '))}\b", text)
    ]
    assert unused == []


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f.__qualname__)
def test_examples_run(function: FunctionType) -> None:
    module = import_module(function.__module__)
    found = doctest.DocTestFinder().find(function, globs=vars(module).copy())
    runner = doctest.DocTestRunner(optionflags=doctest.REPORT_NDIFF)
    results = [runner.run(example) for example in found]
    assert sum(result.attempted for result in results) > 0
    assert sum(result.failed for result in results) == 0


def test_an_entry_says_who_published_what_when_and_where() -> None:
    entry = source("S39")
    assert entry.publisher == "United States Department of Agriculture"
    assert (entry.year, entry.page) == ("2011", "(c)(1)(ii) and (iii)")
    assert "205.203" in entry.title


def test_an_unknown_key_is_refused_with_the_known_ones() -> None:
    with pytest.raises(OutOfRange, match=r"S99.*S10.*common-practice"):
        source("S99")
