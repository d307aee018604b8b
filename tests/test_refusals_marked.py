"""Nothing that refuses a person says so in bare English: every such sentence is marked for translation where it is raised.

Read from the code: what is given to an exception that people meet, to a field of a form, or to a message of a page.
What speaks to programs or at a terminal is in English and left out.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.marked import ROOT

FOLDERS = ("sites", "licences", "spectrum")
#: Addresses for programs, commands, and what fills the demo.
IN_ENGLISH = (
    "sites/api/",
    "licences/api",
    "spectrum/api/",
    "spectrum/features/",
    "spectrum/demo/",
    "/management/",
)
#: What the pages turn into a sentence for a person; every class of ours that is made of one of these is too.
FOR_PEOPLE = {
    "RegisterError", "RefusalError", "ValidationError", "PermissionDenied",
    "StepError", "StepRefusedError", "ShapeError",
}  # fmt: skip
#: A failure of ours, which ends as status 500 and a line in the log.
NOT_FOR_PEOPLE = {"DirectWriteError"}
#: What is given beside the sentence: the name of a field, what was typed, what could be.
NO_TEXT = {"field", "typed", "example"}
_WORD = re.compile(r"[A-Za-z]{2,}")
_SENTENCE = re.compile(r"[A-Za-z]\S* +[A-Za-z]")


def sources() -> Iterator[Path]:
    for folder in FOLDERS:
        for file in sorted((ROOT / folder).rglob("*.py")):
            name = file.relative_to(ROOT).as_posix()
            if not any(part in name for part in IN_ENGLISH):
                yield file


def refusing_classes() -> set[str]:
    bases: dict[str, set[str]] = {}
    for file in sources():
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                bases[node.name] = {base.id for base in node.bases if isinstance(base, ast.Name)}
    found = set(FOR_PEOPLE)
    while more := {name for name, of in bases.items() if of & found} - found:
        found |= more
    return found - NOT_FOR_PEOPLE


CLASSES = refusing_classes()


def bare(text: ast.expr, values: dict[str, list[ast.expr]]) -> bool:
    """Whether an expression is, or may be, English that no catalogue is asked for."""
    if isinstance(text, ast.Constant):
        return isinstance(text.value, str) and bool(_SENTENCE.search(text.value))
    if isinstance(text, ast.JoinedStr):
        return any(isinstance(p, ast.Constant) and _WORD.search(str(p.value)) for p in text.values)
    if isinstance(text, ast.BinOp):
        return bare(text.left, values) or bare(text.right, values)
    if isinstance(text, ast.IfExp):
        return bare(text.body, values) or bare(text.orelse, values)
    if isinstance(text, ast.Dict):
        return any(bare(value, values) for value in text.values)
    if isinstance(text, ast.List | ast.Tuple):
        return any(bare(value, values) for value in text.elts)
    if isinstance(text, ast.Call) and isinstance(text.func, ast.Attribute) and text.func.attr == "format":
        return bare(text.func.value, values)
    if isinstance(text, ast.Name):
        return any(bare(value, {}) for value in values.get(text.id, []))
    return False


def assigned(function: ast.AST) -> dict[str, list[ast.expr]]:
    found: dict[str, list[ast.expr]] = {}
    for node in ast.walk(function):
        if isinstance(node, ast.Assign):
            for target in node.targets:
                if isinstance(target, ast.Name):
                    found.setdefault(target.id, []).append(node.value)
                if isinstance(target, ast.Subscript) and isinstance(target.value, ast.Name):
                    found.setdefault(target.value.id, []).append(node.value)
    return found


def said_by(call: ast.Call) -> list[ast.expr]:
    """What of a call a person would read."""
    if isinstance(call.func, ast.Name) and call.func.id in CLASSES:
        return [*call.args, *(word.value for word in call.keywords if word.arg not in NO_TEXT)]
    if isinstance(call.func, ast.Attribute):
        if call.func.attr == "add_error":
            return call.args[1:]
        of = call.func.value
        if isinstance(of, ast.Name) and of.id == "messages" and call.func.attr != "get_messages":
            return call.args[1:]
        if isinstance(of, ast.Name) and of.id == "forms" and call.func.attr == "ValidationError":
            return list(call.args)
    return []


def unmarked(source: str) -> Iterator[int]:
    """The lines on which somebody is refused in bare English."""
    tree = ast.parse(source)
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    values: dict[ast.Call, dict[str, list[ast.expr]]] = {}
    for function in functions:  # the innermost comes last
        names = assigned(function)
        values.update({node: names for node in ast.walk(function) if isinstance(node, ast.Call)})
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and any(bare(text, values.get(node, {})) for text in said_by(node)):
            yield node.lineno


@pytest.mark.parametrize("folder", FOLDERS)
def test_no_refusal_is_bare_english(folder: str) -> None:
    found = [
        f"{file.relative_to(ROOT)}:{line}"
        for file in sources()
        if file.relative_to(ROOT).parts[0] == folder
        for line in unmarked(file.read_text(encoding="utf-8"))
    ]
    assert found == []


def test_the_classes_that_refuse_are_found() -> None:
    assert {"StaleWriteError", "NotAllowedError", "PositionError", "MappingError", "MaskError"} <= CLASSES
    assert "DirectWriteError" not in CLASSES


@pytest.mark.parametrize(
    "source",
    [
        'raise RegisterError("This is not possible.")',
        'raise NotAllowedError(f"{who} may not")',
        'raise ValidationError({"name": "Give a name."})',
        'raise MappingError("columns", f"no column {name}")',
        'raise RegisterError("Application {a}: no".format(a=a))',
        'def f():\n    why = f"{link} is held"\n    raise RegisterError(why, field="x")',
        'def f():\n    problems = {}\n    problems["a"] = "Not this one."\n    raise ValidationError(problems)',
        'form.add_error("day", "Not before today.")',
        'messages.error(request, f"{code} is gone")',
    ],
)
def test_bare_english_is_found(source: str) -> None:
    assert [*unmarked(source)]


@pytest.mark.parametrize(
    "source",
    [
        'raise RegisterError(gettext("This is not possible."))',
        'raise RegisterError(sentence(_("{a} is held"), a=a), field="channel number")',
        'raise ValidationError({"name": _("Give a name.")})',
        'raise RegisterError(f"{link}/{label}: {said}")',
        'raise MappingError("columns", sentence(_("no column")))',
        'messages.error(request, error.message)',
    ],
)  # fmt: skip
def test_what_is_marked_is_let_through(source: str) -> None:
    assert [*unmarked(source)] == []
