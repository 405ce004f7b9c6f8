"""A motor study as it is read: what arrives in SI, and which files went into it."""

import hashlib

import pytest

from converter_match.library.motor_study_file import is_motor_study, read_motor_study
from converter_match.library.shipped import find

NAME = "lift-truck-electric"
FILE = find("motor-studies", NAME)
PARTS = {
    "present.engine": ("engines", "four-cylinder-2l5-45kw"),
    "present.converter": ("converters", "single-stage-260mm"),
    "present.driveline": ("drivelines", "two-speed-lift-truck"),
    "present.machine": ("machines", "lift-truck-5t"),
    "candidate[0].motor": ("motors", "lift-truck-80v-30kw"),
    "candidate[0].converter": ("converters", "single-stage-260mm"),
    "candidate[1].motor": ("motors", "lift-truck-80v-30kw"),
    "candidate[2].motor": ("motors", "lift-truck-80v-30kw"),
    "candidate[3].motor": ("motors", "lift-truck-80v-30kw"),
}


@pytest.fixture(scope="module")
def study():
    return read_motor_study(FILE)


def test_every_file_that_went_into_it_is_listed_with_its_checksum(study):
    by_role = {item.role: item for item in study.inputs}
    assert set(by_role) == {"motor study", "duty.routes[0]", *PARTS}
    assert by_role["motor study"].sha256 == hashlib.sha256(FILE.read_bytes()).hexdigest()
    for role, (kind, name) in PARTS.items():
        assert by_role[role].path == name
        assert by_role[role].content == find(kind, name).read_bytes()
        assert by_role[role].sha256 == hashlib.sha256(by_role[role].content).hexdigest()


def test_what_is_asked_for_and_where_arrives_in_si(study):
    asked = study.requirements
    assert asked.startability == pytest.approx(0.18)
    assert asked.continuous_grade == pytest.approx(0.04)
    assert asked.top_speed == pytest.approx(18 / 3.6)
    assert asked.cycle_time == pytest.approx(1.10)
    assert study.grades == pytest.approx((0.0, 0.04, 0.09, 0.12))
    assert (study.load, study.surface.name) == ("laden", "concrete or asphalt")
    assert [route.id for route in study.routes] == ["timber-stack-to-kiln"]
    assert study.question.startswith("The diesel of the 5 t lift truck")


def test_candidates_are_coupled_as_the_file_says_and_take_over_what_it_does_not_name(study):
    found = [(item.id, item.converter is None, item.ratio) for item in study.candidates]
    assert found == [
        ("converter-kept", False, 1.0),
        ("direct-1", True, 1.0),
        ("direct-1.4", True, 1.4),
        ("direct-1.8", True, 1.8),
    ]
    for item in study.candidates:
        assert item.driveline == study.present.driveline
        assert item.machine == study.present.machine


def read_with(folder, *changes):
    text = FILE.read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) >= 1, old
        text = text.replace(old, new, 1)
    path = folder / "study.toml"
    path.write_text(text, encoding="utf-8")
    return read_motor_study(path)


def test_what_a_file_may_leave_out_and_add_is_taken(tmp_path):
    found = read_with(
        tmp_path,
        ('load = "laden"', 'hydraulic_torque = { unit = "N*m", value = 12 }\nload = "empty"'),
        ('grades = { unit = "percent", values = [0, 4, 9, 12] }\n', ""),
        ('cycle_time = { unit = "percent", value = 110 }\n', ""),
        (
            "direct = 1.0\n",
            'direct = 1.0\nefficiency = 0.97\nvoltage = { unit = "V", value = 78 }\n',
        ),
        ('question = """', 'site = "plateau-quarry-hot-day"\nquestion = """'),
    )
    assert (found.hydraulic_torque, found.load) == (12.0, "empty")
    assert found.site.id == "plateau-quarry-hot-day"
    assert "site" in {item.role for item in found.inputs}
    assert (found.candidates[1].efficiency, found.candidates[1].voltage) == (0.97, 78.0)
    assert found.candidates[2].efficiency is None or found.candidates[2].voltage is None


def test_names_that_are_not_given_are_the_ids(tmp_path):
    found = read_with(
        tmp_path,
        ('name = "Coupled directly, no reduction"\n', ""),
        ('name = "As it stands: 2.5 L diesel, converter"\n', ""),
    )
    assert found.candidates[1].name == "direct-1"
    assert found.present.name == "as it stands"


def test_file_is_told_to_be_a_motor_study_by_its_schema(tmp_path):
    assert is_motor_study(FILE)
    assert is_motor_study(NAME)
    assert not is_motor_study(find("studies", "quarry-loader-repower"))
    damaged = tmp_path / "damaged.toml"
    damaged.write_text("schema = ", encoding="utf-8")
    for other in (damaged, tmp_path, tmp_path / "nobody.toml", "nobody"):
        assert not is_motor_study(other)
