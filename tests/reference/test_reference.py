"""No answer moves unseen; how to renew them is said in ``answers.py``."""

from reference.answers import answers, moved, read


def test_answers_are_those_last_looked_at():
    assert moved(read(), answers()) == []


def test_a_difference_is_noticed_and_rounding_is_not():
    old = {"case": {"a": 1.0, "b": 100.0}}
    assert moved(old, {"case": {"a": 1.0 + 1e-9, "b": 100.0}}) == []
    assert moved(old, {"case": {"a": 1.0, "b": 100.001}}) == ["case: b: 100.0 -> 100.001"]
    assert moved(old, {"case": {"a": 1.0}}) == ["case: b: 100.0 -> None"]
    assert moved(old, {"case": {"a": 1.0 + 1e-7, "b": 100.0}}, 1e-9) == [
        "case: a: 1.0 -> 1.0000001"
    ]
    assert moved({}, old) == ["case: a: None -> 1.0", "case: b: None -> 100.0"]
