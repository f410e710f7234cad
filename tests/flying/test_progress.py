import io

import pytest

from sweep.flying.progress import Progress, Watcher, duration


class Clock:
    def __init__(self):
        self.time = 100.0

    def __call__(self):
        return self.time


class Terminal(io.StringIO):
    def isatty(self):
        return True


def flying(stream):
    """A run of 1,000 flights of 30 s, 360 of them done before, 40 while the model loads, and 100 more in 10 s."""
    clock = Clock()
    progress = Progress(stream, clock)
    progress.begin(1000, 360, 30.0)
    clock.time += 45.0
    progress.flown(40)
    clock.time += 10.0
    progress.flown(100)
    return progress, clock


def test_the_line_says_how_far_how_fast_and_how_long():
    """100 flights x 30 s in 10 s are 300 x real time; 500 flights more take 50 s, by hand."""
    progress, _ = flying(io.StringIO())
    assert progress.line() == "500 of 1 000 flights (50 %), 300 x real time, 50 s left"


def test_flights_of_an_earlier_run_do_not_count_as_speed():
    progress, clock = flying(io.StringIO())
    clock.time += 10.0
    progress.flown(100)
    assert "300 x real time" in progress.line()


def test_the_leader_is_named():
    progress, _ = flying(io.StringIO())
    progress.best(17, 0.8312)
    assert progress.line().endswith(", best so far: design 17 (score 0.831)")


def test_before_the_first_flights_it_says_why_nothing_moves_and_guesses_nothing():
    stream = io.StringIO()
    progress = Progress(stream, Clock())
    progress.begin(10, 0, 30.0)
    assert stream.getvalue() == "0 of 10 flights (0 %), making the model ready\n"
    progress.flown(2)
    assert progress.line() == "2 of 10 flights (20 %)"


def test_what_comes_later_is_timed_from_its_begin():
    """60 flights x 10 s in 2 s are 300 x real time, by hand."""
    progress, clock = flying(io.StringIO())
    progress.begin(120, 0, 10.0)
    clock.time += 2.0
    progress.flown(60)
    assert progress.line() == "60 of 120 flights (50 %), 300 x real time, 2 s left"


def test_plain_lines_come_every_few_seconds_and_at_the_end():
    stream = io.StringIO()
    progress, clock = flying(stream)
    for _ in range(50):
        clock.time += 0.2
        progress.flown(10)
    progress.end()
    lines = stream.getvalue().splitlines()
    assert len(lines) == 5
    assert lines[-1].startswith("1 000 of 1 000 flights (100 %)")
    assert not any("\x1b" in line or "\r" in line for line in lines)


def test_the_last_line_is_not_printed_twice():
    """It came when the last flights did; the end adds it only where it did not."""
    stream = io.StringIO()
    progress, clock = flying(stream)
    clock.time += 10.0
    progress.flown(500)
    progress.end()
    progress.begin(4, 0, 30.0)
    progress.flown(4)
    progress.end()
    assert [line.split(",")[0] for line in stream.getvalue().splitlines()[2:]] == [
        "500 of 1 000 flights (50 %)",
        "1 000 of 1 000 flights (100 %)",
        "4 of 4 flights (100 %)",
    ]


def test_a_terminal_has_one_line_that_changes():
    stream = Terminal()
    progress, clock = flying(stream)
    clock.time += 1.0
    progress.flown(500)
    progress.end()
    assert stream.getvalue().count("\n") == 1
    assert stream.getvalue().count("\r\x1b[K") == 5


@pytest.mark.parametrize("name", ["TERM", "NO_COLOR"])
def test_a_terminal_without_escape_codes_gets_lines(name, monkeypatch):
    monkeypatch.setenv(name, "dumb")
    stream = Terminal()
    progress, clock = flying(stream)
    clock.time += 10.0
    progress.flown(500)
    assert "\x1b" not in stream.getvalue()
    assert stream.getvalue().endswith("\n")


def test_the_line_stays_on_one_line(monkeypatch):
    monkeypatch.setenv("COLUMNS", "30")
    stream = Terminal()
    progress, clock = flying(stream)
    clock.time += 10.0
    progress.flown(500)
    assert max(len(shown) for shown in stream.getvalue().split("\r\x1b[K")) < 30


def test_a_sentence_does_not_stay_glued_to_the_line():
    stream = Terminal()
    progress, _ = flying(stream)
    progress.say("Two shards were torn.")
    assert stream.getvalue().endswith("\r\x1b[KTwo shards were torn.\n")


def test_a_watcher_may_stay_silent(capsys):
    watcher = Watcher()
    watcher.begin(1, 0, 1.0)
    watcher.flown(1)
    watcher.best(0, 1.0)
    watcher.say("hello")
    watcher.end()
    assert capsys.readouterr() == ("", "")


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.4, "0 s"), (45, "45 s"), (99.6, "2 min"), (720, "12 min"), (12000, "3 h 20 min")]
)
def test_durations_are_short(seconds, text):
    assert duration(seconds) == text
