"""What a long fuzz run says at its end."""

from faults.fuzzing import ENDED, LONG, REACHED


def pytest_terminal_summary(terminalreporter):
    """How many inputs of each test ended how; only a long run is worth the lines."""
    if not LONG or not ENDED:
        return
    terminalreporter.section("inputs tried")
    for test in sorted({test for test, _ in ENDED}):
        counts = {code: count for (of, code), count in sorted(ENDED.items()) if of == test}
        said = ", ".join(
            f"{count} {'read and checked' if code == REACHED else f'exit {code}'}"
            for code, count in counts.items()
        )
        terminalreporter.write_line(f"{test}: {sum(counts.values())} inputs: {said}")
