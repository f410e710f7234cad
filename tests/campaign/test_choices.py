"""What a craft file chooses by name: one place has the names, and everybody else asks what they do."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from pydantic import TypeAdapter, ValidationError

import sweep
from sweep.campaign.craft import Control, Craft, Rangefinders
from sweep.model.onboard.choices import COMBINED, FOOTPRINTS, LAWS, law_of

SWEEP = Path(sweep.__file__).parent
HOME = "model/onboard/choices.py"
KERNEL = "model/onboard/control.py"
MEANINGS = "report/pages/words.py"  # says what each is, in the words of people
"""The only other place that may know one law from another: a law is a branch of it."""


def is_none(node: ast.Compare) -> bool:
    """Whether it only asks whether there is one."""
    return all(isinstance(each, ast.Is | ast.IsNot) for each in node.ops)


def names_of_laws(source: str) -> Iterator[str]:
    """Where a law is told by its name or its constant."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Constant) and node.value in LAWS:
            yield ast.unparse(node)
        if isinstance(node, ast.Name | ast.Attribute) and ast.unparse(node).split(".")[-1] in (
            "FUSED_HEIGHT",
            "EACH_FOIL",
            "CASCADED",
        ):
            yield ast.unparse(node)
        if (
            isinstance(node, ast.Compare)
            and not is_none(node)
            and any(ast.unparse(each).endswith(".law") for each in ast.walk(node))
        ):
            yield ast.unparse(node)


def test_a_law_is_named_in_one_place() -> None:
    found = {path.relative_to(SWEEP).as_posix() for path in SWEEP.rglob("*.py") if list(names_of_laws(path.read_text()))}
    assert found - {MEANINGS} == {HOME, KERNEL}


@pytest.mark.parametrize(
    "source", ["x == 'each-foil'", "if law == control.EACH_FOIL: pass", "x = structure.law == 2", "{'fused-height': 1}"]
)
def test_who_names_a_law_is_found(source: str) -> None:
    assert list(names_of_laws(source))


def test_every_law_has_a_number_of_its_own() -> None:
    assert sorted(law.number for law in LAWS.values()) == list(range(len(LAWS)))
    assert [law_of(law.number) for law in LAWS.values()] == [*LAWS.values()]
    with pytest.raises(KeyError):
        law_of(len(LAWS))


@pytest.mark.parametrize(
    ("group", "key", "names"), [(Control, "law", LAWS), (Control, "combine", COMBINED), (Rangefinders, "footprint", FOOTPRINTS)]
)
def test_a_craft_file_may_choose_these_and_no_others(group: type, key: str, names: dict[str, object]) -> None:
    """Editors and messages list them too."""
    field = group.model_fields[key]  # type: ignore[attr-defined]
    assert field.default == next(iter(names))
    assert group.model_json_schema()["properties"][key]["enum"] == [*names]  # type: ignore[attr-defined]
    adapter: TypeAdapter[str] = TypeAdapter(field.rebuild_annotation())
    assert [adapter.validate_python(name) for name in names] == [*names]
    with pytest.raises(ValidationError) as refusal:
        adapter.validate_python("hovering")
    (detail,) = refusal.value.errors()
    *most, last = (f"'{name}'" for name in names)
    assert detail["ctx"]["expected"] == f"{', '.join(most)} or {last}"


def test_the_schema_of_a_craft_says_text() -> None:
    laws = dict(Craft.model_json_schema()["$defs"]["Control"]["properties"]["law"])
    assert laws.pop("description")
    assert laws == {"default": "level-and-height", "enum": [*LAWS], "title": "Law", "type": "string"}
