"""The rules of the house that a tool can check: style, types, rooms, packaging, texts."""

import ast
import os
import re
import shutil
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path

import pytest

import converter_match

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "converter_match"
MODULES = sorted(PACKAGE.rglob("*.py"))
LINT_IMPORTS = "from importlinter.cli import lint_imports_command as main; main()"


def run(*command, cwd=ROOT, **environment):
    """Run a command and return (exit status, everything it printed)."""
    env = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    done = subprocess.run(
        command,
        cwd=cwd,
        env=env | environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        timeout=600,
    )
    return done.returncode, done.stdout


def python(*arguments, **options):
    return run(sys.executable, *arguments, **options)


def project_files():
    """Return the files that are or would be committed; without git, all but hidden folders."""
    if (ROOT / ".git").exists() and shutil.which("git"):
        status, listing = run("git", "ls-files", "-z", "--cached", "--others", "--exclude-standard")
        assert status == 0, listing
        found = (ROOT / name for name in sorted(set(listing.split("\0"))) if name)
        return [path for path in found if path.is_file()]
    caches = {"__pycache__", "build", "dist"}
    return [
        path
        for path in sorted(ROOT.rglob("*"))
        if path.is_file()
        and not any(
            part.startswith(".") or part in caches for part in path.relative_to(ROOT).parts[:-1]
        )
    ]


def texts():
    """Yield (name, text) of every project file that is text."""
    for path in project_files():
        try:
            yield path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8")
        except UnicodeDecodeError:  # a picture, a spreadsheet
            continue


def offending_lines(pattern):
    return [
        f"{name}:{number}: {line.strip()}"
        for name, text in texts()
        for number, line in enumerate(text.splitlines(), start=1)
        if pattern.search(line)
    ]


# --- tools ---------------------------------------------------------------------------------------


def test_linter_has_nothing_to_say():
    status, said = python("-m", "ruff", "check", ".")
    assert status == 0, said


def test_code_is_formatted():
    status, said = python("-m", "ruff", "format", "--check", "--diff", ".")
    assert status == 0, said


@pytest.mark.slow
def test_types_are_sound():
    status, said = python("-m", "mypy")
    assert status == 0, said


@pytest.mark.slow
def test_imports_point_one_way():
    status, said = python("-c", LINT_IMPORTS, "--no-logo", "--no-cache")
    assert status == 0, said


@pytest.mark.slow
@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("physics/upward.py", "import converter_match.judgement"),
        ("physics/reader.py", "import converter_match.library"),
        ("components/imperial.py", "import converter_match.units"),
        ("curves_plotted/__init__.py", "import converter_match.curves"),
    ],
    ids=["physics-judgement", "physics-library", "components-units", "room-without-a-place"],
)
def test_import_contracts_notice_a_breach(tmp_path, module, line):
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    shutil.copytree(PACKAGE, tmp_path / "converter_match")
    breach = tmp_path / "converter_match" / module
    breach.parent.mkdir(exist_ok=True)
    breach.write_text(f"{line}\n", encoding="utf-8")
    status, said = python("-c", LINT_IMPORTS, "--no-logo", "--no-cache", cwd=tmp_path)
    assert status == 1, said
    name = module.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
    assert f"converter_match.{name}" in said


# --- modules -------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_module_has_at_most_500_lines(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 500


def classes():
    """Yield (module, class) of every class of the package that is not in another one."""
    for path in MODULES:
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef):
                yield path.relative_to(PACKAGE).as_posix(), node


def test_name_of_a_public_class_says_which_it_is():
    places = {}
    for module, node in classes():
        if not node.name.startswith("_"):
            places.setdefault(node.name, []).append(module)
    assert len(places) > 300
    assert {name: modules for name, modules in places.items() if len(modules) > 1} == {}


# What an answer leaves to its one renderer.
OF_THE_RENDERER = {"text", "lines", "_lines", "__repr__", "__str__", "_repr_html_"}


@pytest.mark.slow
def test_no_result_has_a_text_of_its_own():
    known = {node.name: node for _, node in classes()}

    def lineage(name):
        bases = known[name].bases if name in known else []
        above = [base.id for base in bases if isinstance(base, ast.Name)]
        return {name}.union(*map(lineage, above))

    answers = 0
    for module, node in classes():
        methods = {part.name for part in node.body if isinstance(part, ast.FunctionDef)}
        if node.name == "Answer" or "blocks" not in methods:
            continue
        answers += 1
        assert "Answer" in lineage(node.name), f"{module}: {node.name} has blocks and is no answer"
        own = methods & OF_THE_RENDERER
        assert not own, f"{module}: {node.name} has its own {', '.join(sorted(own))}"
    assert answers >= 20


# An exercise asks, and judges what is typed, in the learner's units; a log is columns with units.
IN_UNITS = ("judgement/lesson/", "judgement/identify/synthetic_log.py")


def test_judgement_stays_in_si():
    of_a_reader = {"System", "display_unit", "from_si", "show", "shown", "shown_text"}
    for path in MODULES:
        module = path.relative_to(PACKAGE).as_posix()
        if not module.startswith("judgement/") or module.startswith(IN_UNITS):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith(
                "converter_match.units"
            ):
                taken = {alias.name for alias in node.names} & of_a_reader
                assert not taken, f"{module}: {', '.join(sorted(taken))}"


class Anonymous(ast.NodeTransformer):
    """Gives local names the place in which they first occur: twins differ in nothing else."""

    def __init__(self):
        self.places = {}

    def visit_Name(self, node):
        node.id = self.places.setdefault(node.id, f"name-{len(self.places)}")
        return node


def shapes_of_functions(path):
    """Yield (name, shape) of every function of a module that is more than a line."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.FunctionDef):
            continue
        body = node.body[1:] if ast.get_docstring(node) else node.body
        inside = [part for statement in body for part in ast.walk(statement)]
        if sum(isinstance(part, ast.stmt) for part in inside) > 1 and len(inside) >= 25:
            nameless = Anonymous()
            copies = (ast.parse(ast.unparse(statement)) for statement in body)
            yield node.name, "".join(ast.dump(nameless.visit(copy)) for copy in copies)


def twins_among(paths):
    places = {}
    for path in paths:
        for name, shape in shapes_of_functions(path):
            places.setdefault(shape, []).append(f"{path.name}:{name}")
    return [found for found in places.values() if len(found) > 1]


@pytest.mark.slow
def test_no_function_is_written_twice():
    assert twins_among(MODULES) == []


def test_a_twin_under_other_names_is_noticed(tmp_path):
    text = (PACKAGE / "judgement" / "conditions" / "oil.py").read_text("utf-8")
    for name, old, new in (("one.py", "known", "known"), ("two.py", "known", "given")):
        (tmp_path / name).write_text(re.sub(rf"\b{old}\b", new, text), "utf-8")
    assert twins_among(sorted(tmp_path.iterdir())) == [
        ["one.py:starting_oil", "two.py:starting_oil"]
    ]


def numbers_in(path):
    """Yield (line, value) of every number in a module, strings and comments left out."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Constant) and type(node.value) in (int, float):
            yield node.lineno, node.value


@pytest.mark.slow
def test_constants_of_nature_are_typed_once():
    # Gravity, the ice point, sea-level pressure, temperature and density, the gas constant; with
    # the roundings in use, so that 9.81 beside 9.80665 is found as well.
    close = [(9.80, 9.82), (273.0, 273.2), (1013e2, 1014e2), (288.1, 288.2), (1.2245, 1.2255),
             (286.9, 287.2)]  # fmt: skip
    found = [
        f"{path.relative_to(PACKAGE).as_posix()}:{line}: {number}"
        for path in MODULES
        for line, number in numbers_in(path)
        if any(low <= number <= high for low, high in close)
    ]
    assert [place for place in found if not place.startswith("constants.py:")] == []
    assert len(found) == len(close)


# --- import --------------------------------------------------------------------------------------


def modules_loaded_by(statement):
    status, said = python("-c", f"{statement}\nimport sys; print(*sys.modules)")
    assert status == 0, said
    return set(said.split())


HEAVY = {"numpy", "scipy", "pandas", "matplotlib", "pydantic", "jinja2", "tomlkit", "ipywidgets"}


def test_importing_the_package_loads_nothing_heavy():
    loaded = modules_loaded_by("import converter_match")
    heavy = {
        "numpy",
        "scipy",
        "pandas",
        "matplotlib",
        "pydantic",
        "jinja2",
        "tomlkit",
        "ipywidgets",
    }
    assert "converter_match" in loaded
    assert not heavy & loaded


def test_a_session_that_reads_and_matches_loads_no_table_figure_or_page():
    session = (
        "import converter_match as cm\n"
        "e, c = cm.read('six-cylinder-7l-185kw', 'single-stage-345mm-tight')\n"
        "m = cm.solve(e, c, site=cm.Site.at('2000 m'))\n"
        "assert cm.figures and cm.bench and cm.tractive and cm.run_study and cm.stall_test"
    )
    assert not {"pandas", "matplotlib", "jinja2", "ipywidgets"} & modules_loaded_by(session)


def test_matching_loads_no_table_figure_or_page():
    loaded = modules_loaded_by("import converter_match.physics.match.solver")
    assert not {"pandas", "matplotlib", "jinja2", "ipywidgets", "pydantic"} & loaded


def test_help_answers_without_anything_heavy():
    ask = (
        "import contextlib, converter_match.cli\n"
        "with contextlib.suppress(SystemExit): converter_match.cli.main(['--help'])"
    )
    loaded = modules_loaded_by(ask)
    assert (
        not {"scipy", "pandas", "matplotlib", "pydantic", "jinja2", "tomlkit", "ipywidgets"}
        & loaded
    )


@pytest.mark.parametrize("name", converter_match.__all__)
def test_public_name_is_there(name):
    assert getattr(converter_match, name) is not None
    assert name in dir(converter_match)


def test_unknown_public_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no_such_name"):
        _ = converter_match.no_such_name


def test_lazy_names_and_the_names_that_the_type_checker_sees_agree():
    tree = ast.parse((PACKAGE / "__init__.py").read_text(encoding="utf-8"))
    seen = {
        (node.module, alias.name)
        for block in tree.body
        if isinstance(block, ast.If)
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    lazy = {(f"converter_match.{home}", name) for name, home in converter_match._HOME.items()}
    assert seen == lazy
    assert set(converter_match.__all__) == {*converter_match._HOME, "__version__"}


# --- texts ---------------------------------------------------------------------------------------


def test_no_file_names_somebodys_folder():
    folders = "|".join(["home", "root", "work", "tmp", "Users"])
    pattern = re.compile(rf"(?<![\w.*>)\]}}-])/(?:{folders})/\w|[A-Za-z]:\\+Users\\")
    assert offending_lines(pattern) == []


def test_no_file_names_a_package_registry():
    hosts = [("pypi", "org"), ("pythonhosted", "org"), ("npmjs", "org"), ("debian", "org")]
    pattern = re.compile("|".join(rf"\b{name}\.{end}\b" for name, end in hosts))
    assert offending_lines(pattern) == []


def test_text_files_end_lines_with_lf():
    crlf = [name for path in project_files() if b"\r\n" in path.read_bytes()
            for name in [path.relative_to(ROOT).as_posix()]
            if path.suffix not in {".png", ".xlsx"}]  # fmt: skip
    assert crlf == []


def command_in(document, marker):
    found = re.search(
        rf"^<!-- {marker} -->\n```sh\n(.*?)\n```$", document, re.MULTILINE | re.DOTALL
    )
    assert found, f"no fenced block under <!-- {marker} -->"
    return found[1]


def test_readme_commands_install_and_run():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert command_in(readme, "demo command") == ("python -m pip install . && converter-match demo")
    assert command_in(readme, "test command") == (
        'python -m pip install -e ".[test]" && python -m pytest'
    )


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash on this system")
def test_ci_runs_the_test_command_of_the_readme():
    status, said = run("bash", ".ci/run", "--print")
    assert status == 0, said
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert said.strip() == command_in(readme, "test command")


DOCUMENTS = [
    path.relative_to(ROOT).as_posix()
    for folder in [".", "data", "docs", "notebooks"]
    for path in sorted((ROOT / folder).glob("*.md"))
]


@pytest.mark.parametrize("document", DOCUMENTS)
def test_links_inside_the_project_lead_somewhere(document):
    text = (ROOT / document).read_text(encoding="utf-8")
    targets = re.findall(r"\]\(([^)#\s]+)", text)
    inside = [target for target in targets if "://" not in target]
    missing = [
        target for target in inside if not (ROOT / document).parent.joinpath(target).exists()
    ]
    assert missing == []


def test_files_that_the_developers_text_names_are_there():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`([\w.-]*\w(?:/[\w.-]+)*(?:/|\.(?:py|md|toml)))(?::\w+)?`", text))
    named |= set(re.findall(r"(?:python|pytest) ((?:tests|benchmarks)[\w/.]*)", text))
    missing = [
        name
        for name in sorted(named)
        if "NAME" not in name
        and not name.startswith("my-")  # stands for one to come
        and not (ROOT / name).exists()
        and not list(PACKAGE.rglob(name.rstrip("/")))
    ]
    assert len(named) > 30
    assert missing == []


# --- packaging -----------------------------------------------------------------------------------


def test_requirements_set_lower_bounds_only():
    with (ROOT / "pyproject.toml").open("rb") as file:
        project = tomllib.load(file)["project"]
    extras = project["optional-dependencies"]
    requirements = project["dependencies"] + [line for extra in extras.values() for line in extra]
    for requirement in requirements:
        assert requirement.startswith("converter-match[") or re.fullmatch(
            r"[A-Za-z0-9-]+>=[0-9.]+", requirement
        ), requirement


STRAY = ROOT / "converter_match" / "private-notes.txt"  # of the checkout, and not committed


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """Build the source archive, and from it the wheel; no network is needed."""
    out = tmp_path_factory.mktemp("built")
    STRAY.write_text("somebody's own notes", encoding="utf-8")
    try:
        status, said = python("-m", "build", "--no-isolation", "--outdir", str(out), str(ROOT))
    finally:
        STRAY.unlink()
    assert status == 0, said
    [archive], [wheel] = out.glob("*.tar.gz"), out.glob("*.whl")
    return archive, wheel


@pytest.mark.slow
@pytest.mark.skipif(not (ROOT / ".git").exists(), reason="only a checkout knows what is committed")
def test_source_archive_holds_every_project_file(built):
    with tarfile.open(built[0]) as archive:
        inside = {name.split("/", 1)[1] for name in archive.getnames() if "/" in name}
    expected = {path.relative_to(ROOT).as_posix() for path in project_files()}
    assert expected - inside == set()
    assert inside - expected == {"PKG-INFO"}


@pytest.mark.slow
@pytest.mark.skipif(not (ROOT / ".git").exists(), reason="only a checkout knows what is committed")
def test_nothing_is_packed_that_is_not_committed(built):
    with tarfile.open(built[0]) as archive, zipfile.ZipFile(built[1]) as wheel:
        names = archive.getnames() + wheel.namelist()
    assert [name for name in names if name.endswith(STRAY.name)] == []
    known = {path.name for path in project_files()}
    assert {Path(name).name for name in wheel.namelist()} - known <= {
        "METADATA", "WHEEL", "RECORD", "entry_points.txt",
    }  # fmt: skip


@pytest.mark.slow
def test_wheel_holds_data_notebooks_and_type_marker(built):
    with zipfile.ZipFile(built[1]) as wheel:
        inside = set(wheel.namelist())
    names = {path.relative_to(ROOT).as_posix() for path in project_files()}
    for folder, home in [("data/", "_data/"), ("notebooks/", "_notebooks/")]:
        expected = {
            f"converter_match/{home}{name.removeprefix(folder)}"
            for name in names
            if name.startswith(folder)
        }
        assert expected
        assert expected - inside == set()
    assert "converter_match/py.typed" in inside
    assert not any(name.startswith(("tests/", "benchmarks/")) for name in inside)


READ_EVERYTHING = """
import pathlib, sys
import converter_match
from converter_match.library import read
from converter_match.library.shipped import data_folder, shipped

home = pathlib.Path(sys.argv[1])
assert home in pathlib.Path(converter_match.__file__).parents, converter_match.__file__
assert home in pathlib.Path(str(data_folder())).parents, data_folder()
for kind in sys.argv[2:]:
    files = shipped(kind)
    if kind == "studies":  # names components, and is none itself
        from converter_match.library.study_file import read_study as reader
    elif kind == "catalogues":  # the same
        from converter_match.library.catalogue_file import read_catalogue as reader
    elif kind == "motor-studies":
        from converter_match.library.motor_study_file import read_motor_study as reader
    else:
        reader = read.read_component
    for path in files.values():
        reader(path)
    print(kind, len(files))
"""


@pytest.mark.slow
def test_shipped_data_can_be_read_from_the_wheel(built, tmp_path):
    home = tmp_path.resolve() / "installed"
    with zipfile.ZipFile(built[1]) as wheel:
        wheel.extractall(home)
    kinds = {path.parent.name for path in ROOT.glob("data/*/*.toml")}
    assert {"engines", "converters", "sites"} <= kinds
    # Stands before the checkout on the import path, and is run from a folder that holds neither.
    status, said = python(
        "-c", READ_EVERYTHING, str(home), *sorted(kinds), cwd=tmp_path, PYTHONPATH=str(home)
    )
    assert status == 0, said
    counted = dict(line.split() for line in said.splitlines())
    assert counted == {
        kind: str(len(list((ROOT / "data" / kind).glob("*.toml")))) for kind in kinds
    }
