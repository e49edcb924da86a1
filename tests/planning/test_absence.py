"""When ground may be called clear, against published formulas and worked values."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spreadsim.cli import main
from spreadsim.errors import InputError
from spreadsim.planning import may_be_called_clear
from spreadsim.planning.absence import chance_of_finding


def test_random_search_is_koopmans() -> None:
    # Koopman 1946, from memory: width 10 m, 3 km/h, 4 h, 100 ha, coverage .12
    assert chance_of_finding(4, 3000, 10, 1_000_000) == pytest.approx(0.113079563, abs=1e-9)


def test_worked_value_of_bayes() -> None:
    # prior .5, finding .3: 8 searches leave .0545, 9 leave .0387883569 (Bayes' rule, worked by hand)
    assert may_be_called_clear(9, (0.3, 0.3)).still_there[0] == pytest.approx(0.0387883569, abs=1e-9)
    assert may_be_called_clear(8, (0.3, 0.3)).still_there[0] == pytest.approx(0.0545, abs=5e-5)
    assert may_be_called_clear(0, (0.3, 0.5)).searches_needed == (9, 5)


@pytest.mark.parametrize(("searches", "verdict"), [(4, "not yet"), (5, "can't tell"), (8, "can't tell"), (9, "clear")])
def test_verdict_is_clear_only_with_the_worst_searching(searches: int, verdict: str) -> None:
    assert may_be_called_clear(searches, (0.3, 0.5)).verdict == verdict


@given(st.floats(0.05, 0.95), st.floats(0.05, 0.95), st.floats(0.01, 0.5))
def test_needed_searches_are_the_fewest_that_do(finding: float, prior: float, accepted: float) -> None:
    needed = may_be_called_clear(0, (finding, finding), prior=prior, accepted=accepted).searches_needed[0]
    after = may_be_called_clear(needed, (finding, finding), prior=prior, accepted=accepted)
    assert after.still_there[0] <= accepted * (1 + 1e-6)
    assert after.verdict == "clear"
    if needed:
        before = may_be_called_clear(needed - 1, (finding, finding), prior=prior, accepted=accepted)
        assert before.still_there[0] > accepted * (1 - 1e-6)


def test_all_problems_are_told_at_once() -> None:
    with pytest.raises(InputError) as error:
        may_be_called_clear(-1, (0.5, 0.3), prior=1.0, accepted=float("nan"))
    assert len(error.value.problems) == 4
    with pytest.raises(InputError) as error:
        chance_of_finding(0, float("inf"), -1, float("nan"))
    assert len(error.value.problems) == 4


def test_command_answers_in_a_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", "clear", "--unit", "unit 2", "--searches", "9", "--finding", "0.3", "0.5"]) == 0
    assert " ".join(capsys.readouterr().out.split()).startswith("Unit 2 may be called clear: after 9 searches")
    assert main(["ask", "clear", "--searches", "9", "--finding", "0.5", "0.3"]) == 2
