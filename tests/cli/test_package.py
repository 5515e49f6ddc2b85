"""`import flownet`: names that are fetched when they are asked for."""

from __future__ import annotations

import importlib
import inspect

import pytest

import flownet
from flownet.schema.errors import CaseError
from tests.each import each, named


@each(named(flownet.__all__))
def test_every_public_name_is_there_and_documented(name):
    value = getattr(flownet, name)
    assert inspect.getdoc(value)
    assert name in dir(flownet)


def test_solve_stays_the_function_whatever_is_imported():
    module = importlib.import_module("flownet.solving.solve")
    assert inspect.ismodule(module)
    assert flownet.solve is module.solve


def test_importing_solve_brings_the_findings():
    flownet.__dict__.pop("solve", None)
    flownet.solve  # noqa: B018 - asking for it is the point
    assert "flownet.findings" in importlib.import_module("sys").modules


def test_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="slove"):
        flownet.slove  # noqa: B018


def test_errors_are_also_those_of_python():
    assert issubclass(flownet.CaseError, ValueError)
    assert issubclass(flownet.NoSolution, ArithmeticError)
    assert flownet.CaseError is CaseError


def test_every_kind_of_the_case_file_is_public():
    kinds = importlib.import_module("flownet.schema.component").KINDS
    importlib.import_module("flownet.enclosure.enclosure")
    assert {cls.__name__ for cls in kinds.values()} <= set(flownet.__all__)
