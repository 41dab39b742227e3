"""A reader fed with inputs that a fuzzer makes by watching which lines of it they reach.

Beside the tests, not one of them: it takes as long as it is given. atheris wants an environment of
its own, made once in the checkout::

    python3 -m venv fuzz-venv && fuzz-venv/bin/pip install -e . atheris
    fuzz-venv/bin/python tests/faults/guided.py weather -runs=100000

In place of ``weather``: ``spec``, ``fleet``, ``offers``, ``stops``, ``log``. What follows goes to
libFuzzer, such as ``-max_total_time=600`` or the name of a file to be tried again. It begins with
what stands in `examples/`. Every input must be read, or refused in messages with exit code 2;
anything else ends the run and leaves the input in the current directory.
"""

import os
import sys
import tempfile
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path
from types import SimpleNamespace

import atheris

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples"
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

# What is compiled for the processor is left as it is: numba could not read it with counters inside.
WATCHED = ["restcab.spec", "restcab.weather", "restcab.fleet", "restcab.offers", "restcab.files",
           "restcab.errors", "restcab.visible", "tomllib"]  # fmt: skip
with atheris.instrument_imports(include=WATCHED):
    import tomllib  # noqa: F401

    from restcab.errors import InputError
    from restcab.fleet.file import load_fleet
    from restcab.offers.file import load_offers
    from restcab.spec.reading import load_spec
    from restcab.visible import visible
    from restcab.weather.cab_log import read_cab_log
    from restcab.weather.files import default_weather, read_weather

WORDS = (
    "nan", "inf", "-inf", "1e400", "-0.0", "1e-320", "0x10", "1_000", "-999", "9999", "NA", '""',
    "[[", "]]", "= {", "'''", "\\u0000", "\\u001b[2J", "\u202e", "٣", "\x85", "\x1c", "# ", " = ",
    "2024-02-30", "0001-01-01 00:00", "9999-12-31 23:59Z", "+99:00", "America/New_York", "24:00",
    " degF", " Btu/h", " in x ", " m**2*K/W", "USD ", "time", "utc_offset_h", "latitude_deg",
    "truck", "cooling", "bank", "rest", "money", "options", "claim", "fitted", "surfaces", "layers",
    "units", "batteries", "measures", "points", "trucks", "lanes", "climates", "stops", "columns",
    "zone", "shortest", "bunk", "outdoor", "volts", "amps", "(F)", "(UTC)", "LOCATION,",
)  # fmt: skip
"""What bytes alone would be slow to hit upon."""


class Target(SimpleNamespace):
    """A reader, the name of its input, and inputs to begin with."""

    read: Callable[[Path], object]
    name: str
    seeds: Sequence[bytes]


def example(name: str, lines: int | None = None) -> bytes:
    """Content of an example, or its first lines."""
    return b"".join((EXAMPLES / name).read_bytes().splitlines(True)[:lines])


def target(kind: str) -> Target:
    """What is fed, by its name on the command line."""
    specs = [path.name for path in EXAMPLES.glob("*.toml")
             if "fleet" not in path.name and path.name != "offers.toml"]  # fmt: skip
    if kind == "spec":
        return Target(read=load_spec, name="spec.toml", seeds=[example(name) for name in specs])
    if kind == "fleet":
        return Target(read=load_fleet, name="fleet.toml",
                      seeds=[example("fleet.toml"), example("logged-fleet.toml")])  # fmt: skip
    if kind == "offers":
        return Target(read=load_offers, name="offers.toml", seeds=[example("offers.toml")])
    if kind == "stops":
        return Target(read=lambda path: load_fleet(path.with_name("logged-fleet.toml")),
                      name="logged-stops.csv", seeds=[example("logged-stops.csv", 40)])  # fmt: skip
    if kind == "log":
        return Target(read=read_cab_log, name="log.csv",
                      seeds=[example("log-heater-test.csv", 90),
                             example("log-unit-night.csv", 90)])  # fmt: skip
    if kind == "weather":
        return weather_target()
    raise SystemExit(__doc__)


def weather_target() -> Target:
    """Logs as they are; of a file of a year its first lines, the other hours are put behind."""
    years = whole_years()

    def read(path: Path) -> object:
        content = path.read_bytes()
        for year in years:
            if content[:8] == year[0][:8]:
                path.write_bytes(content + b"".join(year[content.count(b"\n") :]))
        return read_weather(path)

    seeds = [example("logged-lot.csv", 40), *(b"".join(year[:14]) for year in years)]
    return Target(read=read, name="weather.csv", seeds=seeds)


def whole_years() -> list[list[bytes]]:
    """Lines of a file of a whole year, in each of the formats that pvlib brings and of an EPW."""
    from importlib.resources import files

    from support import write_epw

    data = files("pvlib") / "data"
    texts = [write_epw(default_weather()).encode()]
    texts += [(data / name).read_bytes() for name in ("723170TYA.CSV", "12839.tm2")]
    return [text.splitlines(True) for text in texts]


def feed(of: Target, folder: Path) -> Callable[[bytes], None]:
    """What the fuzzer calls with each input."""
    path = folder / of.name

    def one(content: bytes) -> None:
        path.write_bytes(content)
        try:
            of.read(path)
        except InputError as error:
            check_message(error)

    return one


def check_message(error: InputError) -> None:
    """Exit code 2, a line for each fault, and nothing in them that acts on a terminal."""
    text = str(error)
    assert error.exit_code == 2
    assert text.strip()
    assert visible(text) == text
    assert all(0 < len(line) < 3000 for line in text.splitlines())


def main() -> None:
    """Feed one reader until the fuzzer is satisfied."""
    if len(sys.argv) < 2:
        raise SystemExit(__doc__)
    kind, more = sys.argv[1], sys.argv[2:]
    warnings.simplefilter("error")  # as in the tests
    of = target(kind)
    with tempfile.TemporaryDirectory(dir=_memory()) as name:
        folder = Path(name)
        for path in (*EXAMPLES.glob("*.toml"), *EXAMPLES.glob("*.csv")):
            (folder / path.name).write_bytes(path.read_bytes())
        if all(word.startswith("-") for word in more):
            more = [*_how_long(more), *_beginning(of, folder)]
        # The fuzzer ends its process without a look back: somebody must stay to clear up.
        child = os.fork()
        if child == 0:
            atheris.Setup([sys.argv[0], *more], feed(of, folder))
            atheris.Fuzz()
        _, status = os.waitpid(child, 0)
    raise SystemExit(os.waitstatus_to_exitcode(status))


def _memory() -> Path | None:
    """Where a file is written soonest; None: wherever the system has such files."""
    memory = Path("/dev/shm")
    return memory if memory.is_dir() else None


def _how_long(given: Sequence[str]) -> list[str]:
    if any(word.startswith(("-runs", "-max_total_time")) for word in given):
        return list(given)
    return [*given, "-max_total_time=600"]


def _beginning(of: Target, folder: Path) -> list[str]:
    """Write the first inputs and the words; return what the fuzzer is told of them."""
    corpus, words = folder / "corpus", folder / "words"
    corpus.mkdir()
    for index, seed in enumerate(of.seeds):
        (corpus / f"seed-{index}").write_bytes(seed)
    words.write_text("".join(f'"{_escaped(word)}"\n' for word in WORDS), encoding="ascii")
    longest = 2 * max(map(len, of.seeds))
    return [str(corpus), f"-dict={words}", f"-max_len={longest}", "-timeout=60"]


def _escaped(word: str) -> str:
    return "".join(f"\\x{byte:02X}" for byte in word.encode())


if __name__ == "__main__":
    main()
