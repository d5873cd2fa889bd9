"""The house keeps its walls: who may import whom, and what stays unloaded."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "plugread"
STAGES = ("photo", "measure", "reading", "diagnose", "notebook", "report", "page", "rules")
SHARED = {"records", "chances", "nets", "errors", "colour", "pixels", "engine", "resources", "plugread"}
MAY_IMPORT = {
    "rules": {"rules"},
    "photo": {"photo"},
    "measure": {"measure", "photo"},
    "reading": {"reading", "rules"},
    "diagnose": {"diagnose", "rules"},
    "notebook": {"notebook"},
    "report": {"report", "rules"},
    "page": {"page", "notebook", "report", "rules", "pipeline", "casefile"},
}
OWNERS = {
    "streamlit": ("page",),
    "sqlite3": ("notebook",),
    "sklearn": ("reading",),
    "scipy": (),
    "pandas": ("page",),
    "altair": ("page",),
}


def imports(path: Path) -> set[str]:
    """Every module a file imports, inside functions too."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def modules(stage: str) -> list[Path]:
    return sorted((PACKAGE / stage).rglob("*.py"))


@pytest.mark.parametrize("stage", STAGES)
def test_stages_import_only_what_the_table_allows(stage: str) -> None:
    """A stage imports its own files, the shared records, and nothing of another stage but what the table names."""
    allowed = MAY_IMPORT[stage] | SHARED
    for path in modules(stage):
        for name in imports(path):
            parts = name.split(".")
            if (
                parts[0] == "plugread"
                and len(parts) > 1
                and ((PACKAGE / parts[1]).is_dir() or (PACKAGE / f"{parts[1]}.py").exists())
            ):
                assert parts[1] in allowed, f"{path.relative_to(PACKAGE)} imports {name}"


@pytest.mark.parametrize(("package", "owners"), OWNERS.items())
def test_packages_have_owners(package: str, owners: tuple[str, ...]) -> None:
    """Heavy packages and the data base are imported only where they belong."""
    for path in sorted(PACKAGE.rglob("*.py")):
        if any(name.split(".")[0] == package for name in imports(path)):
            assert path.relative_to(PACKAGE).parts[0] in owners, f"{path.relative_to(PACKAGE)} imports {package}"


def test_importing_plugread_loads_nothing_heavy() -> None:
    """`import plugread` leaves cv2, sklearn, scipy, pandas and streamlit unloaded."""
    code = "import sys, plugread; print(sorted({'cv2','sklearn','scipy','pandas','streamlit','numpy'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip() == "[]"


def test_no_package_file_is_longer_than_400_lines() -> None:
    """A file answers one question and fits on a few screens."""
    long = {
        str(p.relative_to(PACKAGE)): n
        for p in PACKAGE.rglob("*.py")
        if (n := len(p.read_text(encoding="utf-8").splitlines())) > 400
    }
    assert long == {}
