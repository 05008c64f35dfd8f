"""The vintage-vehicle schema that ships as the default."""

from valuation.schema import VINTAGE_FILE, Role, default_schema


def test_the_scales_are_those_of_the_design():
    schema = default_schema()
    assert schema.attribute("condition").level_names == ("derelict", "project", "runner", "driver", "show")
    assert schema.attribute("paint").level_names == ("bare", "worn", "presentable", "fresh", "show-finish")
    assert schema.attribute("awards").level_names == ("none", "local", "regional", "national")
    assert set(schema.attribute("drivetrain").level_names) == {
        "original", "rebuilt-original", "period-swap", "modern-swap", "electric-swap", "missing",
    }  # fmt: skip


def test_the_columns_are_those_of_the_design():
    schema = default_schema()
    assert schema.names[:7] == ("family", "model_year", "body", "condition", "drivetrain", "paint", "awards")
    assert set(schema.names[7:]) == {
        "chassis", "interior", "original_finish", "mileage", "documentation", "colour", "region",
    }  # fmt: skip
    roles = {name: schema.attribute(name).role for name in schema.names}
    assert roles["model_year"] is Role.SMOOTH
    assert roles["family"] is roles["drivetrain"] is Role.NOMINAL
    assert roles["original_finish"] is Role.FLAG
    assert {name for name in schema.names if schema.attribute(name).required} == {"model_year", "condition"}


def test_every_level_of_a_scale_says_what_is_seen():
    for attribute in default_schema().attributes:
        assert all(level.meaning.endswith(".") for level in attribute.levels), attribute.name
        assert attribute.meaning.endswith("."), attribute.name


def test_every_expected_effect_is_cautious_and_marked():
    text = VINTAGE_FILE.read_text(encoding="utf-8")
    expecting = [a for a in default_schema().attributes if a.expected]
    lines = [line for line in text.splitlines() if line.startswith("expected")]
    assert len(lines) == len(expecting) == 6
    assert all("common practice, no source" in line for line in lines)
    for attribute in expecting:
        assert attribute.expected is not None
        assert attribute.expected.give_or_take >= 0.7 * abs(attribute.expected.percent), attribute.name


def test_untouched_old_paint_may_go_either_way():
    finish = default_schema().attribute("original_finish")
    assert finish.direction is None
    assert finish.expected is None


def test_it_is_read_once():
    assert default_schema() is default_schema()
