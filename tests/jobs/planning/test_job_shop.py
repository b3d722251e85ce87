"""The classical job shop is a shop without people, nights or tables: the same code proves it.

Instances as in the OR-Library; optima as published: FT06 (Fisher and Thompson 1963) 55, LA01, LA02
and LA16 (Lawrence 1984) 666, 655 and 945.
"""

from __future__ import annotations

import pytest

from jobs.planning.check import broken_rules
from jobs.planning.exact import Budget, optimum
from jobs.planning.lists import earliest_due_first
from jobs.planning.problem import Job, Piece, Place, Problem, Shop, Step
from jobs.planning.tasks import compile_tasks, plan_of

FT06 = """
2 1 0 3 1 6 3 7 5 3 4 6
1 8 2 5 4 10 5 10 0 10 3 4
2 5 3 4 5 8 0 9 1 1 4 7
1 5 0 5 2 5 3 3 4 8 5 9
2 9 1 3 4 5 5 4 0 3 3 1
1 3 3 3 5 9 0 10 4 4 2 1
"""

LA01 = """
1 21 0 53 4 95 3 55 2 34
0 21 3 52 4 16 2 26 1 71
3 39 4 98 1 42 2 31 0 12
1 77 0 55 4 79 2 66 3 77
0 83 3 34 2 64 1 19 4 37
1 54 2 43 4 79 0 92 3 62
3 69 4 77 1 87 2 87 0 93
2 38 0 60 1 41 3 24 4 83
3 17 1 49 4 25 0 44 2 98
4 77 3 79 2 43 1 75 0 96
"""

LA02 = """
0 20 3 87 1 31 4 76 2 17
4 25 2 32 0 24 1 18 3 81
1 72 2 23 4 28 0 58 3 99
2 86 1 76 4 97 0 45 3 90
4 27 0 42 3 48 2 17 1 46
1 67 0 98 4 48 3 27 2 62
4 28 1 12 3 19 0 80 2 50
1 63 0 94 2 98 3 50 4 80
4 14 0 75 2 50 1 41 3 55
4 72 2 18 1 37 3 79 0 61
"""

LA16 = """
1 21 6 71 9 16 8 52 7 26 2 34 0 53 4 21 3 55 5 95
4 55 2 31 5 98 9 79 0 12 7 66 1 42 8 77 6 77 3 39
3 34 2 64 8 62 1 19 4 92 9 79 7 43 6 54 0 83 5 37
1 87 3 69 2 87 7 38 8 24 9 83 6 41 0 93 5 77 4 60
2 98 0 44 5 25 6 75 7 43 1 49 4 96 9 77 3 17 8 79
2 35 3 76 5 28 9 10 4 61 6 9 0 95 8 35 1 7 7 95
3 16 2 59 0 46 1 91 9 43 8 50 6 52 5 59 4 28 7 27
1 45 0 87 3 41 4 20 6 54 9 43 8 14 5 9 2 39 7 71
4 33 2 37 8 66 5 33 3 26 7 8 1 28 6 89 9 42 0 78
8 69 9 81 2 94 4 96 3 27 0 69 7 45 6 78 1 74 5 84
"""


def job_shop(text: str) -> Problem:
    rows = [[int(word) for word in line.split()] for line in text.strip().splitlines()]
    horizon = sum(sum(row[1::2]) for row in rows)
    machines = sorted({number for row in rows for number in row[::2]})
    shop = Shop(horizon, (0,), (), (), tuple(Place(f"machine {number}") for number in machines))
    pieces = tuple(
        Piece(
            f"piece {index}",
            "all",
            tuple(
                Step(f"step {n}", row[2 * n + 1], uses=(f"machine {row[2 * n]}",))
                for n in range(len(row) // 2)
            ),
        )
        for index, row in enumerate(rows)
    )
    return Problem(shop, (Job("all", due=0),), pieces)


@pytest.mark.parametrize(
    ("text", "length"),
    [(FT06, 55), (LA01, 666), (LA02, 655), (LA16, 945)],
    ids=["FT06", "LA01", "LA02", "LA16"],
)
def test_the_published_optimum_is_found_and_proved(text: str, length: int) -> None:
    problem = job_shop(text)
    tasks = compile_tasks(problem)
    listed = earliest_due_first(tasks)
    assert listed.cost >= length
    answer = optimum(tasks, listed, Budget(work=60.0))
    assert answer.proved
    assert answer.schedule is not None
    assert answer.schedule.cost == answer.bound == length
    plan = plan_of(tasks, answer.schedule)
    assert plan.finish == {"all": length}
    assert broken_rules(problem, plan) == []
